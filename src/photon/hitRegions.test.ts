import fc from 'fast-check';
import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { HitRegions } from './hitRegions.ts';
import { emptyHits, pushHit } from './spotFilter.ts';

/** Regions by flooding a map of the image, and peaks by asking all eight neighbours: the definition, pixel by pixel. */
function byFlooding(map: Int32Array, w: number): { pixels: number[]; peaks: number[] }[] {
  const steps = [-w - 1, -w, -w + 1, -1, 1, w - 1, w, w + 1];
  const seen = new Set<number>();
  const regions: { pixels: number[]; peaks: number[] }[] = [];
  for (let first = 0; first < map.length; first++) {
    if (map[first] < 0 || seen.has(first)) continue;
    const pixels = [first];
    seen.add(first);
    for (const p of pixels)
      for (const step of steps)
        if (map[p + step] >= 0 && !seen.has(p + step)) {
          seen.add(p + step);
          pixels.push(p + step);
        }
    pixels.sort((a, b) => a - b);
    const peaks = pixels.filter((p) =>
      steps.every((step) => map[p + step] < map[p] || (map[p + step] === map[p] && step > 0)),
    );
    peaks.sort((a, b) => map[b] - map[a] || a - b);
    regions.push({ pixels, peaks });
  }
  return regions;
}

test('regions and peaks from the sorted list are those that flooding the image finds, frame after frame', () => {
  const regions = new HitRegions(40);
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 1 << 30 }),
      fc.constantFrom(0.01, 0.1, 0.4, 0.8),
      fc.constantFrom(2, 5, 1000),
      (seed, share, levels) => {
        const random = randomFrom(seed);
        const [w, h] = [40, 22];
        const map = new Int32Array(w * h).fill(-1);
        const hits = emptyHits();
        for (let y = 2; y < h - 2; y++)
          for (let x = 2; x < w - 2; x++)
            if (random.uniform() < share) {
              map[y * w + x] = Math.floor(levels * random.uniform());
              pushHit(hits, y * w + x, map[y * w + x]);
            }
        const list = regions.borrow(hits);
        const found = Array.from({ length: list.count }, (_, r) => ({
          pixels: [...list.pixels.subarray(list.pixelsFrom[r], list.pixelsFrom[r + 1])],
          peaks: [...list.peaks.subarray(list.peaksFrom[r], list.peaksFrom[r + 1])],
        }));
        expect(found).toEqual(byFlooding(map, w));
      },
    ),
    { seed: 9021, numRuns: 200 },
  );
});
