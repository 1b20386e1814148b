import type { Conditions } from '../recording/FlightDescription.ts';
import type { NumberText } from './numberText.ts';
import type { LabelledText } from './ReportModel.ts';
import type { Words } from './words/en.ts';
import { fill } from './words/fill.ts';

/** Air and light of a flight, and what was not measured of them. */
export function conditionRows(c: Conditions, words: Words, numbers: NumberText): LabelledText[] {
  const rows: LabelledText[] = [
    {
      label: words.weatherLabel,
      text: words.weathers[c.weather] + (c.sun === undefined ? '' : `; ${words.suns[c.sun]}`),
    },
    {
      label: words.air,
      text: fill(words.airValue, {
        t: numbers.fixed(c.temperatureC, 1),
        p: numbers.fixed(c.pressureHPa, 1),
        rh: numbers.fixed(c.relativeHumidityPct, 0),
      }),
    },
    {
      label: words.ozone,
      text:
        c.ozonePpb === undefined
          ? words.ozoneAssumed
          : c.ozoneSigmaPpb === undefined
            ? fill(words.ozoneValue, { x: numbers.fixed(c.ozonePpb, 0) })
            : fill(words.ozoneValueSigma, { x: numbers.fixed(c.ozonePpb, 0), s: numbers.fixed(c.ozoneSigmaPpb, 0) }),
    },
  ];
  if (c.visibilityKm !== undefined)
    rows.push({
      label: words.visibility,
      text: fill(words.visibilityValue, { km: numbers.significant(c.visibilityKm, 2) }),
    });
  rows.push({ label: words.mains, text: fill(words.mainsValue, { hz: numbers.significant(c.mainsHz, 3) }) });
  return rows;
}
