import { expect, test } from 'vitest';
import { mean } from '../../maths/sampleStatistics.ts';
import { measureFlatField } from '../../photon/response/flatField.ts';
import { type PointResponse, pointResponse } from '../../photon/response/pointResponse.ts';
import { SERIES, seriesExposures } from '../../simulate/inventSeries.ts';
import { inventWorld } from '../../simulate/inventWorld.ts';
import { pointResponse as truePointResponse } from '../../simulate/unevenness.ts';
import type { World } from '../../simulate/World.ts';

/** Where the photons of a sphere of even light arrive, the series' even frames over and over; dark events are among them. */
function measuredOn(world: World, events: number): PointResponse {
  const exposureOf = seriesExposures(world);
  const first = SERIES.findIndex(({ light }) => light === 'even');
  const before = SERIES.slice(0, first).reduce((sum, { frames }) => sum + frames, 0);
  const { frames, exposureMs } = SERIES[first];
  const x: number[] = [];
  const y: number[] = [];
  let dark = 0;
  for (let round = 0; x.length < events; round++) {
    const again = round === 0 ? exposureOf : seriesExposures({ ...world, seed: world.seed + 7919 * round });
    for (let k = 0; k < frames; k++) {
      const { spots } = again(before + k);
      for (let i = 0; i < spots.count; i++) {
        x.push(spots.xPx[i]);
        y.push(spots.yPx[i]);
      }
      dark += 0.022 * exposureMs;
    }
  }
  const found = measureFlatField(world.rig.uvLens, x, y, dark);
  if (found.kind === 'refused') throw new Error(found.because);
  return pointResponse(found.flatField, world.rig.uvLens);
}

const GRID = [-0.9, -0.45, 0, 0.45, 0.9].flatMap((y) => [-0.9, -0.45, 0, 0.45, 0.9].map((x) => [x, y] as const));
const placesOf = ({ uvLens }: World['rig']): (readonly [number, number])[] =>
  GRID.map(([x, y]) => [((x + 1) / 2) * uvLens.widthPx, ((y + 1) / 2) * uvLens.heightPx]);

test('a camera that sees alike all over is found even, though a sphere of even light looks darker towards the rim, seed 12', () => {
  const world = inventWorld(12);
  const found = measuredOn(world, 60_000);
  for (const [u, v] of placesOf(world.rig)) {
    // 3.5 standard deviations for the worst of 25 places.
    expect(Math.abs(found.at(u, v) - 1)).toBeLessThan(3.5 * found.relativeSigma([[u, v]]));
  }
});

test.each([31, 32, 33])(
  'a camera worn on one side and shaded at the rim is found as uneven as it is, seed %i',
  (seed) => {
    const world = inventWorld(seed, { size: 'compact', uneven: true });
    const truth = truePointResponse(world.rig.unevenness);
    const found = measuredOn(world, 60_000);
    const errors = placesOf(world.rig).map(([u, v]) => found.at(u, v) / truth(u, v) - 1);
    const spread = placesOf(world.rig).map(([u, v]) => truth(u, v) - 1);
    // 1.1 % by the counts and as much again by a form that is not the surface's: 3 % is twice that, of an unevenness of 15 %.
    expect(Math.sqrt(mean(errors.map((e) => e * e)))).toBeLessThan(0.03);
    expect(Math.sqrt(mean(spread.map((e) => e * e)))).toBeGreaterThan(0.1);
  },
);
