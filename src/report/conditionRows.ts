import type { Conditions } from '../recording/FlightDescription.ts';
import type { NumberText } from './numberText.ts';
import type { LabelledText } from './ReportModel.ts';
import { fill } from './words/fill.ts';
import type { Words } from './words/Words.ts';

/** Air and light of a flight row by row, and what was not measured of them. */
export function conditionRows(c: Conditions, words: Words, numbers: NumberText): LabelledText[] {
  const texts = conditionTexts(c, words, numbers);
  return [
    { label: words.weatherLabel, text: texts.weather },
    { label: words.air, text: texts.air },
    { label: words.ozone, text: texts.ozone },
    ...(texts.visibility === null ? [] : [{ label: words.visibility, text: texts.visibility }]),
    { label: words.mains, text: texts.mains },
  ];
}

/** The same in one sentence, for a narrow column. */
export function conditionText(c: Conditions, words: Words, numbers: NumberText): string {
  const texts = conditionTexts(c, words, numbers);
  return [
    texts.weather,
    texts.air,
    fill(words.ozoneIs, { text: texts.ozone }),
    ...(texts.visibility === null ? [] : [fill(words.visibilityIs, { text: texts.visibility })]),
    fill(words.mainsIs, { text: texts.mains }),
  ].join('; ');
}

function conditionTexts(c: Conditions, words: Words, numbers: NumberText) {
  return {
    weather: words.weathers[c.weather] + (c.sun === undefined ? '' : `; ${words.suns[c.sun]}`),
    air: fill(words.airValue, {
      t: numbers.fixed(c.temperatureC, 1),
      p: numbers.fixed(c.pressureHPa, 1),
      rh: numbers.fixed(c.relativeHumidityPct, 0),
    }),
    ozone:
      c.ozonePpb === undefined
        ? words.ozoneAssumed
        : c.ozoneSigmaPpb === undefined
          ? fill(words.ozoneValue, { x: numbers.fixed(c.ozonePpb, 0) })
          : fill(words.ozoneValueSigma, { x: numbers.fixed(c.ozonePpb, 0), s: numbers.fixed(c.ozoneSigmaPpb, 0) }),
    visibility:
      c.visibilityKm === undefined ? null : fill(words.visibilityValue, { km: numbers.significant(c.visibilityKm, 2) }),
    mains: fill(words.mainsValue, { hz: numbers.fixed(c.mainsHz, Number.isInteger(c.mainsHz) ? 0 : 1) }),
  };
}
