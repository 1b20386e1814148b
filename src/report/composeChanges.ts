import type { ChangeRecord } from '../campaign/records.ts';
import { CHANGE_KINDS } from '../grade/change/tellChanges.ts';
import { componentLabel, placeLabel } from './componentLabel.ts';
import type { NumberText } from './numberText.ts';
import type { ReportContents } from './ReportContents.ts';
import type { ReportModel } from './ReportModel.ts';
import { reasonInWords } from './reasonWords.ts';
import { utcSpan } from './utcText.ts';
import { fill } from './words/fill.ts';
import { inLanguage } from './words/inLanguage.ts';
import type { Words } from './words/Words.ts';

/** In the order in which a reader wants them: what is new or worse first. */
export const CHANGE_ORDER = CHANGE_KINDS;

/** The chapter of changes; null where no earlier campaign was given. */
export function composeChanges(contents: ReportContents, words: Words, numbers: NumberText): ReportModel['changes'] {
  const { comparison } = contents;
  if (comparison === null) return null;
  const rows = [...contents.changes]
    .sort((a, b) => CHANGE_ORDER.indexOf(a.change) - CHANGE_ORDER.indexOf(b.change))
    .map((change) => changeRow(contents, change, words, numbers));
  return {
    lead: fill(words.changesLead, {
      campaign: comparison.earlierCampaign,
      span: utcSpan(comparison.earlierFromUtc, comparison.earlierToUtc),
      q: numbers.percent(Number(comparison.parameters.falseDiscoveryRate ?? 0.05)),
    }),
    counts: CHANGE_ORDER.map((change) => [
      words.changeKinds[change],
      words.changeMeanings[change],
      numbers.integer(contents.changes.filter((one) => one.change === change).length),
    ]),
    rows,
    note: fill(words.changesNote, {
      hash: comparison.earlierResultHash.slice(0, 16),
      software: comparison.software,
      remarks: comparison.remarks.map((remark) => inLanguage(remark, words)).join(' '),
    }),
  };
}

function changeRow(contents: ReportContents, change: ChangeRecord, words: Words, numbers: NumberText): string[] {
  const own = [...contents.findings, ...contents.rejected].find(({ finding }) => finding.id === change.laterId);
  const component = contents.line.components.find(({ id }) => id === change.componentId) ?? null;
  const earlier = change.history[0];
  return [
    own === undefined ? '–' : `F${own.number}`,
    words.changeKinds[change.change],
    `${componentLabel(component, words)}\n${placeLabel(component, words)}`,
    earlier === undefined ? '–' : numbers.powerOfTen(earlier.rate.rateHz, 1),
    own === undefined ? '–' : numbers.powerOfTen(own.discharge.rate.rateHz, 1),
    change.rate === null ? '–' : ratioText(change.rate, words, numbers).replace(' (', '\n('),
    reasonInWords(change.because, words, numbers),
  ];
}

/** A ratio with its interval. An upper end that nothing bounds is told so. */
export function ratioText(
  { ratio, lower, upper }: { readonly ratio: number; readonly lower: number; readonly upper: number },
  words: Words,
  numbers: NumberText,
): string {
  const end = upper > 1e6 ? '∞' : numbers.significant(upper, 2);
  return `× ${numbers.significant(ratio, 2)} (${numbers.significant(lower, 2)} ${words.to} ${end})`;
}

/** What was seen of a finding in this and in earlier campaigns, newest first. */
export function historyRows(
  contents: ReportContents,
  change: ChangeRecord | undefined,
  now: readonly string[],
  words: Words,
  numbers: NumberText,
): string[][] {
  if (change === undefined || change.history.length === 0) return [];
  return [
    [contents.name, ...now],
    ...change.history
      .slice(0, 3)
      .map(({ campaign, seenUtc, rate, nearestRangeM, conditions, priority, decision }) => [
        campaign,
        seenUtc.slice(0, 10),
        numbers.rateLines(rate),
        `${numbers.fixed(nearestRangeM, 1)}\u00a0m`,
        words.weathers[conditions.weather],
        decision === 'open'
          ? words.priorities[priority]
          : `${words.priorities[priority]}, ${words.decisions[decision]}`,
      ]),
  ];
}
