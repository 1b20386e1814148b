import type { Provenance } from '../campaign/records.ts';
import { componentLabel, placeLabel } from './componentLabel.ts';
import { conditionRows } from './conditionRows.ts';
import type { NumberText } from './numberText.ts';
import type { ReportContents } from './ReportContents.ts';
import type { LabelledText, ReportModel } from './ReportModel.ts';
import { utcSpan, utcText } from './utcText.ts';
import type { Words } from './words/en.ts';
import { fill } from './words/fill.ts';

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
      quality: Object.entries(flight.quality).map(([key, value]) => qualityRow(key, value, numbers)),
      leftOut: Object.entries(flight.leftOut)
        .filter(([, frames]) => frames > 0)
        .map(([label, frames]) => ({ label, text: numbers.integer(frames) })),
    })),
    suspects: contents.sightings
      .filter(({ dischargeId }) => dischargeId === null)
      .map((sighting) => {
        const [lonDeg, latDeg, heightM] = sighting.seedLlh;
        const reasons = sighting.suspicions.map((suspicion) => words.suspicions[suspicion]);
        return [
          sighting.id,
          `${sighting.flight}\n${utcText(sighting.fromUtc, false)}`,
          [reasons.length === 0 ? words.unplaced : reasons.join(', '), sighting.note]
            .filter((s) => s !== '')
            .join('. '),
          fill(words.strengthValue, {
            events: numbers.significant(sighting.events, 3),
            frames: numbers.integer(sighting.framesInView),
          }),
          `${numbers.fixed(latDeg, 5)}°\n${numbers.fixed(lonDeg, 5)}°\n${numbers.fixed(heightM, 0)}\u00a0m`,
        ];
      }),
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
 * Quality figures come as named by those who measured them, with the unit at the end of the name as everywhere in the
 * code: `registrationHeldOutRmsPx` becomes "registration held out rms" and "0.27 px". Others are printed as they are.
 */
export function qualityRow(key: string, value: string | number, numbers: NumberText): LabelledText {
  const unit = UNITS.find(
    ([ending]) => key.endsWith(ending) && /[a-z0-9]/.test(key.charAt(key.length - ending.length - 1)),
  );
  const stem = unit === undefined ? key : key.slice(0, -unit[0].length);
  const label = stem
    .replace(/([a-z0-9])([A-Z])/g, '$1 $2')
    .replaceAll('_', ' ')
    .toLowerCase();
  const text =
    typeof value === 'string' ? value : Number.isInteger(value) ? numbers.integer(value) : numbers.asGiven(value, 3);
  return {
    label,
    text:
      unit === undefined || typeof value === 'string'
        ? text
        : `${text}${unit[1] === '°' || unit[1] === '/h' ? '' : '\u00a0'}${unit[1]}`,
  };
}
