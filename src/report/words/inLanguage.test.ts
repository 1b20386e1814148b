import { readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { expect, test } from 'vitest';
import { reasonsInEnglish } from '../../grade/reasonsInEnglish.ts';
import { inLanguage } from './inLanguage.ts';
import { RECORDED_SENTENCES } from './recordedSentences.ts';
import { wordsOf } from './wordsOf.ts';

const inGerman = (recorded: string): string => inLanguage(recorded, wordsOf('de'));

test('every sentence that the catalogues know is one that the product writes', () => {
  const source = readdirSync('src', { recursive: true, encoding: 'utf8' })
    .filter((file) => file.endsWith('.ts') && !/\/words\/|\.test\.|\.testdata\./.test(file))
    .map((file) => readFileSync(path.join('src', file), 'utf8'))
    .join('\n')
    // Long strings are written in two.
    .replace(/['`"] \+\s+['`"]/g, '')
    .replace(/\$\{(?:[^{}]|\{[^{}]*\})*\}/g, '{}');
  expect(RECORDED_SENTENCES.filter((sentence) => !source.includes(sentence.replace(/\{\w+\}/g, '{}')))).toEqual([]);
});

test('advice on an attribution is told whole, with its figures in the decimals of the language', () => {
  expect(
    inGerman(
      'V2-C-clamp and V2-C-string lie 0.2 m apart, where the position is uncertain by 0.09 m and the line model by 0.08 m (1 sigma): another pass looking east or west, at right angles to the present view, would settle it.',
    ),
  ).toBe(
    'V2-C-clamp und V2-C-string liegen 0,2 m auseinander, wo die Position auf 0,09 m und das Leitungsmodell auf 0,08 m (1 Sigma) unsicher ist: Ein weiterer Überflug mit Blick nach Osten oder Westen, quer zur jetzigen Sicht, würde es entscheiden.',
  );
});

test('remarks on a flight are told one by one, clauses inside them too', () => {
  expect(
    inGerman(
      'warning: gap (0.540 s without a row; no poses inside); note: jump (1.25 m that the speed does not explain)',
    ),
  ).toBe(
    'Warnung: Lücke (0,540 s ohne Zeile; darin keine Lage); Hinweis: Sprung (1,25 m, die die Geschwindigkeit nicht erklärt)',
  );
});

test('a reasoning that was recorded in English only is told in German, terms included', () => {
  const recorded = reasonsInEnglish([
    { key: 'fitting wet', values: { kind: 'ring', weather: 'fog' } },
    { key: 'passes many', values: { passes: 3 } },
  ]);
  expect(inGerman(recorded)).toBe(
    'Bei Nebel können Tropfen auch an einem heilen Bauteil (Schutzring) leuchten; bei trockenem Wetter noch einmal ansehen. Bei 3 Überflügen gesehen.',
  );
});

test("an owner's own words stay as they are, even where parts of them are known", () => {
  for (const own of ['Ring the depot at Tarnay.', 'range of the depot', 'Note: call first; ask for a gap or a jump.'])
    expect(inGerman(own)).toBe(own);
});
