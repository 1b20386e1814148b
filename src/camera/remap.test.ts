import fc from 'fast-check';
import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { fixRemapMap } from './RemapMap.ts';
import { startRemap } from './remap.ts';

interface World {
  readonly channels: 1 | 3 | 4;
  readonly sourceWidthPx: number;
  readonly sourceHeightPx: number;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly seed: number;
}

const worlds: fc.Arbitrary<World> = fc.record({
  channels: fc.constantFrom<1 | 3 | 4>(1, 3, 4),
  sourceWidthPx: fc.integer({ min: 2, max: 40 }),
  sourceHeightPx: fc.integer({ min: 2, max: 20 }),
  widthPx: fc.integer({ min: 1, max: 37 }),
  heightPx: fc.integer({ min: 1, max: 17 }),
  seed: fc.integer({ min: 1, max: 1 << 30 }),
});

/** A map that wanders over the source and a little beyond, on whole pixels and borders now and then. */
function drawn({ channels, sourceWidthPx, sourceHeightPx, widthPx, heightPx, seed }: World) {
  const random = randomFrom(seed);
  const place = (limit: number) => () => {
    const at = (random.uniform() * 1.2 - 0.1) * (limit - 1);
    return random.uniform() < 0.2 ? Math.round(at) : at;
  };
  const count = widthPx * heightPx;
  const u = Float64Array.from({ length: count }, place(sourceWidthPx));
  const v = Float64Array.from({ length: count }, place(sourceHeightPx));
  const source = Uint8Array.from({ length: sourceWidthPx * sourceHeightPx * channels }, () =>
    random.uniform() < 0.3 ? 255 * Math.round(random.uniform()) : 256 * random.uniform(),
  );
  return { u, v, source, map: fixRemapMap(u, v, { widthPx, heightPx, sourceWidthPx, sourceHeightPx, channels }) };
}

test('both forms of the remap give the same bytes', () => {
  fc.assert(
    fc.property(worlds, (world) => {
      const { source, map } = drawn(world);
      const [simd, plain] = [startRemap(map, 'simd'), startRemap(map, 'plain')];
      for (const image of [source, source.map((byte) => 255 - byte)])
        expect(Buffer.from(simd.run(image)).equals(Buffer.from(plain.run(image)))).toBe(true);
    }),
    { seed: 4714, numRuns: 200 },
  );
});

test('a remapped value is the bilinear one in real numbers, but for the fixed point; beyond the source it is 0', () => {
  fc.assert(
    fc.property(worlds, (world) => {
      const { u, v, source, map } = drawn(world);
      const { channels, sourceWidthPx: w, sourceHeightPx: h } = world;
      const out = startRemap(map).run(source);
      for (let i = 0; i < u.length; i++) {
        const inside = u[i] >= 0 && v[i] >= 0 && u[i] <= w - 1 && v[i] <= h - 1;
        // On the last 1/256 px either answer is right.
        const near = [u[i], v[i], w - 1 - u[i], h - 1 - v[i]].some((gap) => Math.abs(gap) < 1 / 256);
        if (near) continue;
        for (let c = 0; c < channels; c++) {
          const at = (x: number, y: number) => source[(Math.min(y, h - 1) * w + Math.min(x, w - 1)) * channels + c];
          const [x, y] = [Math.floor(u[i]), Math.floor(v[i])];
          const [a, b] = [u[i] - x, v[i] - y];
          const exact = inside
            ? (1 - b) * ((1 - a) * at(x, y) + a * at(x + 1, y)) + b * ((1 - a) * at(x, y + 1) + a * at(x + 1, y + 1))
            : 0;
          // 255 levels over 1/256 px in each axis, and half a level and 1/256 of rounding.
          expect(Math.abs(out[i * channels + c] - exact)).toBeLessThan(2 * (255 / 256) + 0.51);
        }
      }
    }),
    { seed: 4715, numRuns: 60 },
  );
});

test('places on whole pixels are copied, out to the last row and column', () => {
  const [w, h] = [19, 7];
  const u = Float64Array.from({ length: w * h }, (_, i) => i % w);
  const v = Float64Array.from({ length: w * h }, (_, i) => Math.floor(i / w));
  for (const channels of [1, 3, 4] as const) {
    const map = fixRemapMap(u, v, { widthPx: w, heightPx: h, sourceWidthPx: w, sourceHeightPx: h, channels });
    const source = Uint8Array.from({ length: w * h * channels }, (_, i) => (i * 89) & 255);
    expect(Buffer.from(startRemap(map).run(source)).equals(Buffer.from(source))).toBe(true);
  }
});
