import type { CoverageRecord } from '../campaign/records.ts';
import type { LineComponent } from '../line/LineModel.ts';
import { placeLabel, sentenceCase } from './componentLabel.ts';
import type { NumberText } from './numberText.ts';
import { fill } from './words/fill.ts';
import type { Words } from './words/Words.ts';

/** Names listed of one place; beyond, their number says enough. */
const MOST_NAMES = 6;

/**
 * What is to be flown again, a row for each tower or span and reason in the order of the line's components: place, components, why.
 * Coverage of earlier releases, without a view, is listed as not seen where it is.
 */
export function flyAgainRows(
  coverage: readonly CoverageRecord[],
  components: ReadonlyMap<string, LineComponent>,
  words: Words,
  numbers: NumberText,
): string[][] {
  const rows = new Map<string, { place: string; why: string; ids: string[]; kinds: Map<string, number> }>();
  for (const record of coverage) {
    if (record.state !== 'not seen') continue;
    const component = components.get(record.componentId) ?? null;
    const place = placeLabel(component, words);
    const why = whyOf(record, words);
    const row = rows.get(`${place}\n${why}`) ?? { place, why, ids: [], kinds: new Map<string, number>() };
    row.ids.push(record.componentId);
    const kind = component === null ? '–' : words.kinds[component.kind];
    row.kinds.set(kind, (row.kinds.get(kind) ?? 0) + 1);
    rows.set(`${place}\n${why}`, row);
  }
  return [...rows.values()].map(({ place, why, ids, kinds }) => [
    place,
    ids.length <= MOST_NAMES
      ? ids.join(', ')
      : [...kinds].map(([kind, n]) => `${numbers.integer(n)} × ${kind}`).join(', '),
    sentenceCase(why),
  ]);
}

/** As coverage itself says it (toFlyAgain), in the language of the report. */
function whyOf({ view }: CoverageRecord, words: Words): string {
  if (!view?.flyAgain || (view.coveredShare === 0 && !view.flyAgain.startsWith('hidden'))) return words.whyNotSeen;
  return view.hiddenBy !== null && view.flyAgain.startsWith('hidden')
    ? fill(words.whyHidden, { id: view.hiddenBy })
    : words.whyPart;
}
