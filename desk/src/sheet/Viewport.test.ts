import { expect, test } from 'vitest';
import { fitted, panned, screenX, screenY, type Viewport, worldX, worldY, zoomed } from './Viewport.ts';

const view: Viewport = {
  centreX: 41_237.25,
  centreY: -18_904.5,
  pxPerM: 3.7,
  stretch: 1,
  widthPx: 1013,
  heightPx: 617,
};

test('two ends of a decimetre forty kilometres from the origin lie 40 px apart at the largest scale, to a hundredth', () => {
  const near = zoomed(view, 1e9, 300, 200, false);
  expect(near.pxPerM).toBe(400);
  const x = worldX(near, 300);
  // float64 at 41 km resolves 7e-12 m, 3e-9 px; float32 would leave 4 mm, 1.6 px.
  expect(screenX(near, x + 0.1) - screenX(near, x)).toBeCloseTo(40, 2);
});

test('what lies under the pointer stays there while zooming, also where heights are stretched', () => {
  for (const stretches of [false, true])
    for (const factor of [0.03, 0.8, 1.25, 40]) {
      const start = { ...view, stretch: stretches ? 6 / 3.7 : 1 };
      const next = zoomed(start, factor, 812, 77, stretches);
      expect(worldX(next, 812)).toBeCloseTo(worldX(start, 812), 6);
      expect(worldY(next, 77)).toBeCloseTo(worldY(start, 77), 6);
    }
});

test('screen and world undo each other, and panning moves the ink by the pixels asked for', () => {
  expect(screenX(view, worldX(view, 123.5))).toBeCloseTo(123.5, 6);
  expect(screenY(view, worldY(view, 456.5))).toBeCloseTo(456.5, 6);
  const moved = panned(view, 31, -17);
  expect(screenX(moved, 41_200) - screenX(view, 41_200)).toBeCloseTo(31, 6);
  expect(screenY(moved, -18_900) - screenY(view, -18_900)).toBeCloseTo(-17, 6);
});

test('a fitted view holds its bounds inside the margin, however long or tall they are', () => {
  for (const bounds of [
    { minX: 0, maxX: 5200, minY: 96, maxY: 190 },
    { minX: 10, maxX: 12, minY: 0, maxY: 60 },
    { minX: 7, maxX: 7, minY: 3, maxY: 3 },
  ])
    for (const stretches of [false, true]) {
      const fit = fitted(bounds, 900, 240, stretches, 30);
      expect(screenX(fit, bounds.minX)).toBeGreaterThanOrEqual(29.9);
      expect(screenX(fit, bounds.maxX)).toBeLessThanOrEqual(870.1);
      expect(screenY(fit, bounds.maxY)).toBeGreaterThanOrEqual(29.9);
      expect(screenY(fit, bounds.minY)).toBeLessThanOrEqual(210.1);
    }
});
