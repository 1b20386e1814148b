import type { Provenance } from '../campaign/records.ts';
import { componentLabel, placeLabel } from './componentLabel.ts';
import { conditionRows } from './conditionRows.ts';
import type { NumberText } from './numberText.ts';
import type { ReportContents } from './ReportContents.ts';
import type { LabelledText, ReportModel } from './ReportModel.ts';
import { utcSpan, utcText } from './utcText.ts';
import { fill } from './words/fill.ts';
import { inLanguage } from './words/inLanguage.ts';
import type { Words } from './words/Words.ts';

/** Flights with their quality and what was left out of them, suspects, rejected findings, and the identity of all inputs. */
export function composeAppendix(contents: ReportContents, words: Words, numbers: NumberText): ReportModel['appendix'] {
  return {
    flights: contents.flights.map((flight) => ({
      title: flight.name,
      rows: [
        { label: words.colTime, text: utcSpan(flight.startUtc, flight.endUtc) },
        { label: words.colRig, text: flight.rigId },
        { label: words.colUvFrames, text: numbers.integer(flight.uvFrames) },
        { label: words.colColourFrames, text: numbers.integer(flight.colourFrames) },
        { label: words.colEvents, text: numbers.integer(flight.photonEvents) },
        {
          label: words.falseAlarms,
          text: fill(words.falseAlarmsValue, { x: numbers.asGiven(flight.falseAlarmsPerHourAsked, 2) }),
        },
        ...conditionRows(flight.conditions, words, numbers),
      ],
      quality: Object.entries(flight.quality).map(([key, value]) => qualityRow(key, value, words, numbers)),
      leftOut: Object.entries(flight.leftOut)
        .filter(([, frames]) => frames > 0)
        .map(([because, frames]) => ({ label: inLanguage(because, words), text: numbers.integer(frames) })),
    })),
    ...suspectsOf(contents, words, numbers),
    rejected: contents.rejected.map(({ number, finding, discharge, component }) => {
      const last = contents.reviewLog
        .filter((entry) => entry.findingId === finding.id && entry.what === 'rejected')
        .at(-1);
      return [
        `F${number}`,
        `${componentLabel(component, words)}, ${placeLabel(component, words)}`,
        numbers.rate(discharge.rate),
        last === undefined
          ? finding.comment
          : fill(words.reviewEntry, {
              utc: utcText(last.atUtc),
              what: words.reviewWhat[last.what],
              who: last.who,
              value: last.value === '' ? '' : ` – ${last.value}`,
            }),
      ];
    }),
    identity: contents.flights.map((flight) => ({
      title: flight.name,
      rows: (Object.keys(words.identity) as (keyof Provenance)[]).map(
        (key): LabelledText => ({ label: words.identity[key], text: flight.provenance[key] }),
      ),
    })),
  };
}

/** A flight over the sea gives thousands of glints: so many are listed, the strongest; all are in the campaign. */
const MOST_SUSPECTS = 200;

function suspectsOf(
  contents: ReportContents,
  words: Words,
  numbers: NumberText,
): Pick<ReportModel['appendix'], 'suspects' | 'suspectsMore'> {
  const all = contents.sightings.filter(({ dischargeId }) => dischargeId === null);
  const listed = [...all]
    .sort((a, b) => b.logLikelihoodRatio - a.logLikelihoodRatio || (a.id < b.id ? -1 : 1))
    .slice(0, MOST_SUSPECTS)
    .sort((a, b) => (a.fromUtc < b.fromUtc ? -1 : a.fromUtc > b.fromUtc ? 1 : a.id < b.id ? -1 : 1));
  return {
    suspects: listed.map((sighting) => {
      const [lonDeg, latDeg, heightM] = sighting.seedLlh;
      const reasons = sighting.suspicions.map((suspicion) => words.suspicions[suspicion]);
      return [
        sighting.id,
        `${sighting.flight}\n${utcText(sighting.fromUtc, false)}`,
        [reasons.length === 0 ? words.unplaced : reasons.join(', '), inLanguage(sighting.note, words)]
          .filter((s) => s !== '')
          .join('. '),
        fill(words.strengthValue, {
          events: numbers.significant(sighting.events, 3),
          frames: numbers.integer(sighting.framesInView),
        }),
        `${numbers.fixed(latDeg, 5)}°\n${numbers.fixed(lonDeg, 5)}°\n${numbers.fixed(heightM, 0)}\u00a0m`,
      ];
    }),
    suspectsMore:
      listed.length === all.length
        ? ''
        : fill(words.suspectsMore, { n: numbers.integer(listed.length), all: numbers.integer(all.length) }),
  };
}

const UNITS: readonly (readonly [ending: string, unit: string])[] = [
  ['PerHour', '/h'],
  ['Dn', 'DN'],
  ['Pct', '%'],
  ['Deg', '°'],
  ['Hz', 'Hz'],
  ['Mps', 'm/s'],
  ['Px', 'px'],
  ['Ms', 'ms'],
  ['Ns', 'ns'],
  ['M', 'm'],
  ['S', 's'],
];

/**
 * A quality figure by its name in the language, with the unit that ends its name in the campaign. One that the catalogue lacks,
 * of a later release, is named as the campaign names it: `registrationHeldOutRmsPx` becomes "registration held out rms".
 */
export function qualityRow(key: string, value: string | number, words: Words, numbers: NumberText): LabelledText {
  const unit = UNITS.find(
    ([ending]) => key.endsWith(ending) && /[a-z0-9]/.test(key.charAt(key.length - ending.length - 1)),
  );
  const names: Readonly<Record<string, string>> = words.qualityFigures;
  const label = names[key] ?? spelledOut(unit === undefined ? key : key.slice(0, -unit[0].length));
  if (typeof value === 'string') return { label, text: inLanguage(value, words) };
  const text = Number.isInteger(value) ? numbers.integer(value) : numbers.asGiven(value, 3);
  if (unit === undefined) return { label, text };
  return { label, text: `${text}${unit[1] === '°' || unit[1] === '/h' ? '' : '\u00a0'}${unit[1]}` };
}

const spelledOut = (name: string): string =>
  name
    .replace(/([a-z0-9])([A-Z])/g, '$1 $2')
    .replaceAll('_', ' ')
    .toLowerCase();
