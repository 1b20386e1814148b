/**
 * How right the camera's own figures are: gain series of invented rigs, rendered to files, measured as a user would, and set
 * against what was drawn. Every other rig's camera sees unevenly; shading by a lens alone is drawn for itself, event by event.
 */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { inverse, Matrix } from 'ml-matrix';
import { measureResponse } from '../../src/jobs/response/measureResponse.ts';
import { share } from '../../src/jobs/score/accuracyOfWorlds.ts';
import { chiSquareQuantile } from '../../src/maths/distributions.ts';
import { type Random, randomFrom } from '../../src/maths/random.ts';
import { mean } from '../../src/maths/sampleStatistics.ts';
import { type FlatFieldMeasurement, measureFlatField, responseOf } from '../../src/photon/response/flatField.ts';
import { pointResponse } from '../../src/photon/response/pointResponse.ts';
import { inventWorld } from '../../src/simulate/inventWorld.ts';
import { meanChargeDn } from '../../src/simulate/meanCharge.ts';
import { renderSeries } from '../../src/simulate/renderSeries.ts';
import { pointResponse as truePointResponse } from '../../src/simulate/unevenness.ts';
import type { World } from '../../src/simulate/World.ts';
import type { Study } from './Study.ts';

/** Relative standard deviation of the pulse heights, and events a second, as the invented camera has them. */
const TRUE = { spread: 0.6, darkPerS: 22, evenPerS: 2022 };
const FLAT_FIELDS = 200;

interface Row {
  readonly gain: number;
  readonly by: 'its own charges' | 'the lamp';
  readonly ratio: number;
  readonly sigmas: number;
}

export const study: Study = async ({ seeds = 24, firstSeed = 301, progress }) => {
  const rows: Row[] = [];
  const spreads: { gain: number; error: number; sigmas: number }[] = [];
  const rates: { gain: number; light: string; ratio: number; inside: boolean }[] = [];
  const factors: number[] = [];
  const even: PointError[] = [];
  const uneven: PointError[] = [];
  const chances = { proportional: [] as number[], lamp: [] as number[], law: [] as number[] };
  for (let seed = firstSeed; seed < firstSeed + seeds; seed++) {
    const folder = mkdtempSync(join(tmpdir(), 'corposant-response-'));
    try {
      const world = inventWorld(seed, { size: 'compact', uneven: (seed - firstSeed) % 2 === 1 });
      await renderSeries(world, join(folder, 'series'));
      writeFileSync(join(folder, 'rig.json'), JSON.stringify(world.rig.nominal));
      const { response } = await measureResponse(
        join(folder, 'series'),
        { rigFile: join(folder, 'rig.json'), outFile: join(folder, 'response.json'), eventsFile: null },
        { progress: () => undefined, note: () => undefined },
      );
      const add = (gain: number, by: Row['by'], found: number, sigma: number): void => {
        const truth = meanChargeDn(world.rig, gain);
        rows.push({ gain, by, ratio: found / truth, sigmas: (found - truth) / sigma });
      };
      for (const { gain, law } of response.gains) {
        if (law.kind === 'refused') continue;
        add(gain, 'its own charges', law.meanDn, law.meanSigmaDn);
        spreads.push({ gain, error: law.spread - TRUE.spread, sigmas: (law.spread - TRUE.spread) / law.spreadSigma });
        chances.law.push(law.goodness);
      }
      if (response.lamp?.kind === 'measured') {
        for (const { gain, meanDn, sigmaDn } of response.lamp.charges) add(gain, 'the lamp', meanDn, sigmaDn);
        if (response.lamp.proportionalChance !== null) chances.lamp.push(response.lamp.proportionalChance);
      }
      for (const rate of response.rates) {
        const truth = rate.light === 'none' ? TRUE.darkPerS : TRUE.evenPerS;
        rates.push({
          gain: rate.gain,
          light: rate.light,
          ratio: rate.perS / truth,
          inside: rate.lowerPerS <= truth && truth <= rate.upperPerS,
        });
      }
      const against = response.againstCurve;
      if (against) factors.push((against.factor - world.rig.gainFactor) / against.sigma);
      for (const { counts } of response.linearity)
        if (counts.kind === 'measured') chances.proportional.push(counts.proportionalChance);
      if (response.flatField?.kind === 'measured')
        (world.rig.unevenness ? uneven : even).push(...pointResponses(response.flatField, world));
      progress(`seed ${seed}: factor off by ${factors.at(-1)?.toFixed(2)} sigmas`);
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  }
  const flat = vignetted(firstSeed);
  const own = rows.filter((row) => row.by === 'its own charges' && row.gain >= 6);
  const meanSquare = (values: readonly number[]): number => mean(values.map((v) => v * v));
  const gainRows = [...new Set(rows.map((row) => `${row.gain} ${row.by}`))].sort().map((key) => {
    const of = rows.filter((row) => `${row.gain} ${row.by}` === key);
    return `| ${of[0].gain} | ${of[0].by} | ${of.length} | ${(100 * (mean(of.map((r) => r.ratio)) - 1)).toFixed(1)} % | ${(100 * Math.sqrt(mean(of.map((r) => (r.ratio - 1) ** 2)))).toFixed(1)} % | ${meanSquare(of.map((r) => r.sigmas)).toFixed(2)} |`;
  });
  const rateRows = ['none', 'even'].flatMap((light) =>
    [...new Set(rates.map((r) => r.gain))].sort().map((gain) => {
      const of = rates.filter((r) => r.light === light && r.gain === gain);
      return `| ${light} | ${gain} | ${of.length} | ${(100 * (mean(of.map((r) => r.ratio)) - 1)).toFixed(1)} % | ${share(of.filter((r) => r.inside).length, of.length)} |`;
    }),
  );
  const low = (values: readonly number[]): string => share(values.filter((p) => p < 0.05).length, values.length);
  return {
    title: 'The camera itself',
    headline: `Mean charge of an event from its own charges (gains 6 to 8, ${own.length} measurements): ${(100 * (mean(own.map((r) => r.ratio)) - 1)).toFixed(1)} % bias, ${(100 * Math.sqrt(mean(own.map((r) => (r.ratio - 1) ** 2)))).toFixed(1)} % RMS; error squared over predicted ${meanSquare(own.map((r) => r.sigmas)).toFixed(2)}; vignetting to ${(100 * flat.rms).toFixed(1)} %.`,
    markdown: `Gain series of ${seeds} invented rigs (seeds ${firstSeed} to ${firstSeed + seeds - 1}), ${SERIES_TEXT}, through \`corposant response\`.

## Charge of a single event

Error squared over predicted: 1 is right; ${band(seeds)} holds 95 % of such means.

| gain | measured by | rigs | bias | RMS error | error squared over predicted |
|---|---|---|---|---|---|
${gainRows.join('\n')}

One factor on the gain curve: error squared over predicted ${meanSquare(factors).toFixed(2)}. Spread of the pulse heights (drawn: ${TRUE.spread}): bias ${mean(spreads.map((s) => s.error)).toFixed(3)}, error squared over predicted ${meanSquare(spreads.map((s) => s.sigmas)).toFixed(2)}.

## Events per second

| light | gain | measurements | bias | truth inside the 95 % interval |
|---|---|---|---|---|
${rateRows.join('\n')}

## Tests of what is true here

Each test should call 5 % of the sound cameras unsound at 0.05: events proportional to exposure ${low(chances.proportional)};
charge proportional to light ${low(chances.lamp)}; even counts ${low(flat.evenChances)}; gamma law ${low(chances.law)}.

## Response to a point of light

From the evenly lit frames of those rigs (about 8000 events of a sphere that is equally bright from everywhere), over the solid angle of each pixel as the true lens has it;
at 25 places of the picture: what a photon rate is divided by. Error squared over predicted: as above, though the places of a rig hang together.

| cameras | error if taken as even (RMS over the places) | RMS error of the correction | error squared over predicted |
|---|---|---|---|
${pointRow('even', even)}
${pointRow('darker at the rim and worn on one side', uneven)}

## Vignetting

${FLAT_FIELDS} pictures of 20 000 events each behind a lens that darkens as the fourth power of the cosine, off centre: RMS error of the
response over the picture ${(100 * flat.rms).toFixed(2)} %; called uneven ${share(flat.seen, FLAT_FIELDS)}. Behind ${FLAT_FIELDS} surfaces of the fitted form: error
squared of the coefficients over predicted ${flat.nees.toFixed(2)}, 5 is right (95 % band ${(chiSquareQuantile(0.025, 5 * FLAT_FIELDS) / FLAT_FIELDS).toFixed(2)} to ${(chiSquareQuantile(0.975, 5 * FLAT_FIELDS) / FLAT_FIELDS).toFixed(2)}).
`,
  };
};

interface PointError {
  readonly truth: number;
  readonly error: number;
  readonly sigmas: number;
}

function pointResponses(
  { flatField }: Extract<FlatFieldMeasurement, { kind: 'measured' }>,
  { rig }: World,
): PointError[] {
  const found = pointResponse(flatField, rig.uvLens);
  const trueAt = truePointResponse(rig.unevenness);
  const steps = [0.1, 0.3, 0.5, 0.7, 0.9];
  return steps.flatMap((y) =>
    steps.map((x) => {
      const [u, v] = [x * rig.uvLens.widthPx, y * rig.uvLens.heightPx];
      const truth = trueAt(u, v);
      const error = found.at(u, v) / truth - 1;
      return { truth, error, sigmas: error / found.relativeSigma([[u, v]]) };
    }),
  );
}

function pointRow(name: string, of: readonly PointError[]): string {
  const rms = (values: readonly number[]): string =>
    `${(100 * Math.sqrt(mean(values.map((v) => v * v)))).toFixed(1)} %`;
  const unevenness = of.map(({ truth }) => truth - 1);
  return `| ${name} | ${rms(unevenness)} | ${rms(of.map(({ error }) => error))} | ${mean(of.map(({ sigmas }) => sigmas ** 2)).toFixed(2)} |`;
}

const SERIES_TEXT =
  '640 x 512 px, 8 bit, 60 to 90 dark frames, 108 evenly lit ones and 60 with a lamp of 16 events a frame at each gain';

const band = (n: number): string =>
  `${(chiSquareQuantile(0.025, n) / n).toFixed(2)} to ${(chiSquareQuantile(0.975, n) / n).toFixed(2)}`;

interface Flatness {
  /** Of the response over the picture, behind lenses that the surface only approximates. */
  readonly rms: number;
  /** Of the five coefficients, where the surface is the truth. */
  readonly nees: number;
  readonly seen: number;
  /** What the test says of counts that are even. */
  readonly evenChances: readonly number[];
}

/** Even light behind a lens that darkens as the fourth power of the cosine, off centre; and behind a surface of our own form. */
function vignetted(seed: number): Flatness {
  const size = { widthPx: 640, heightPx: 512 };
  const scaled = (x: number, y: number): [number, number] => [(2 * (x + 0.5)) / 640 - 1, (2 * (y + 0.5)) / 512 - 1];
  let [square, nees, seen] = [0, 0, 0];
  const evenChances: number[] = [];
  for (let i = 0; i < FLAT_FIELDS; i++) {
    const random = randomFrom(seed * 1000 + i);
    const [cx, cy] = [320 + 40 * random.normal(), 256 + 40 * random.normal()];
    const focalPx = 600 + 500 * random.uniform();
    const cosine = (x: number, y: number): number => (1 + ((x - cx) ** 2 + (y - cy) ** 2) / focalPx ** 2) ** -2;
    const seenThrough = measured(random, size, cosine);
    if (seenThrough.evenChance < 0.05) seen++;
    evenChances.push(measured(random, size, () => 1).evenChance);
    const response = responseOf(seenThrough.flatField, size);
    const at: [number, number][] = [];
    for (let y = 8; y < size.heightPx; y += 16) for (let x = 8; x < size.widthPx; x += 16) at.push([x, y]);
    const level = mean(at.map(([x, y]) => cosine(x, y)));
    square += mean(at.map(([x, y]) => (response(x, y) - cosine(x, y) / level) ** 2));

    const [a, b, c, d, e] = [0.1, 0.1, 0.2, 0.1, 0.2].map((sd) => sd * random.normal());
    const surface = (px: number, py: number): number => {
      const [x, y] = scaled(px, py);
      // Divided by its greatest possible value, so that it can be drawn by rejection.
      return Math.exp(
        a * x + b * y + c * x * x + d * x * y + e * y * y - [a, b, c, d, e].reduce((n, k) => n + Math.abs(k), 0),
      );
    };
    const { flatField } = measured(random, size, surface);
    const error = Matrix.columnVector(flatField.coefficients.map((found, k) => found - [a, b, c, d, e][k]));
    const covariance = new Matrix(Array.from({ length: 5 }, (_, k) => flatField.covariance.slice(5 * k, 5 * k + 5)));
    nees += error.transpose().mmul(inverse(covariance)).mmul(error).get(0, 0);
  }
  return { rms: Math.sqrt(square / FLAT_FIELDS), nees: nees / FLAT_FIELDS, seen, evenChances };
}

function measured(
  random: Random,
  size: { readonly widthPx: number; readonly heightPx: number },
  truth: (x: number, y: number) => number,
): Extract<FlatFieldMeasurement, { kind: 'measured' }> {
  const xs: number[] = [];
  const ys: number[] = [];
  while (xs.length < 20_000) {
    const [x, y] = [size.widthPx * random.uniform() - 0.5, size.heightPx * random.uniform() - 0.5];
    if (random.uniform() > truth(x, y)) continue;
    xs.push(x);
    ys.push(y);
  }
  const found = measureFlatField(size, xs, ys, 0);
  if (found.kind === 'refused') throw new Error(found.because);
  return found;
}
