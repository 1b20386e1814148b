import { expect, test } from 'vitest';
import type { SightingRecord } from '../campaign/records.ts';
import { composeAppendix } from './composeAppendix.ts';
import { numberTextFor } from './numberText.ts';
import type { ReportContents } from './ReportContents.ts';
import { en } from './words/en/index.ts';

/** Kept out, the stronger the higher its number. */
function sighting(number: number): SightingRecord {
  return {
    id: `s${String(number).padStart(5, '0')}`,
    flight: 'long season',
    dischargeId: null,
    fromUtc: new Date(Date.UTC(2026, 4, 12, 12, 0, 0) + 1000 * ((number * 7919) % 40_000)).toISOString(),
    toUtc: '2026-05-13T00:00:00.000Z',
    framesInView: 100,
    events: 20,
    logLikelihoodRatio: number,
    suspicions: ['sun glint'],
    note: '',
    seedLlh: [0.1, 0.7, 200],
  } as unknown as SightingRecord;
}
const contentsOf = (sightings: readonly SightingRecord[]): ReportContents =>
  ({ flights: [], rejected: [], reviewLog: [], sightings }) as unknown as ReportContents;

test('of very many sightings kept out the strongest are listed, in order of time, and the others are told of', () => {
  const many = Array.from({ length: 40_000 }, (_, i) => sighting(i));
  const { suspects, suspectsMore } = composeAppendix(contentsOf(many), en, numberTextFor(en));
  expect(suspects.map(([id]) => id).sort()).toEqual(many.slice(-200).map(({ id }) => id));
  const times = suspects.map(([, place]) => place);
  expect(times).toEqual([...times].sort());
  expect(suspectsMore).toContain('200');
  expect(suspectsMore).toMatch(/40\D000/);
});

test('few are all listed, and nothing more is said', () => {
  const { suspects, suspectsMore } = composeAppendix(contentsOf([sighting(1)]), en, numberTextFor(en));
  expect(suspects).toHaveLength(1);
  expect(suspectsMore).toBe('');
});
