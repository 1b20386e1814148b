import { expect, test } from 'vitest';
import { idealLens } from '../camera/Lens.ts';
import { randomFrom } from '../maths/random.ts';
import { rotationFromVector } from '../maths/rotation.ts';
import { colourPxFromUv, uvPxFromColour } from './colourFromUv.ts';
import { buildLookUpTable, lookUp } from './lookUpTable.ts';
import type { TwoCameraModel } from './Registration.ts';

const MODEL: TwoCameraModel = {
  kind: 'two-camera',
  uv: { ...idealLens(1280, 1024, 2000), k1: -0.2, k2: 0.05, p1: 5e-4, p2: -4e-4 },
  colour: { ...idealLens(1920, 1200, 2400), k1: -0.15, k2: 0.05, p1: 5e-4, p2: -3e-4 },
  colourFromUv: { rotation: rotationFromVector([0.006, -0.009, 0.004]), translation: [-0.15, 0.02, 0.01] },
  residualField: [],
};

test.each([
  ['colour from uv', colourPxFromUv, 1279, 1023],
  ['uv from colour', uvPxFromColour, 1919, 1199],
] as const)(
  'the table %s gives the model to 0.01 px from 10 m to infinity, float32 and all, seed 21',
  (direction, map, w, h) => {
    const table = buildLookUpTable(MODEL, direction, 10);
    const random = randomFrom(21);
    let worst = 0;
    for (let i = 0; i < 3000; i++) {
      const u = random.uniform() * w;
      const v = random.uniform() * h;
      const inverseRange = random.uniform() / 10;
      const right = map(MODEL, u, v, inverseRange)!;
      const read = lookUp(table, u, v, inverseRange)!;
      worst = Math.max(worst, Math.hypot(right[0] - read[0], right[1] - read[1]));
    }
    expect(worst).toBeLessThan(0.01);
  },
);

test('the table holds every pixel of the image and nothing outside it', () => {
  const table = buildLookUpTable(MODEL, 'colour from uv', 10);
  expect(lookUp(table, 1279, 1023, 0.02)).not.toBeNull();
  expect(lookUp(table, 0, 0, 0.02)).not.toBeNull();
  expect(lookUp(table, -1, 4, 0.02)).toBeNull();
});
