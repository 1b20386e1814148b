import { expect, test } from 'vitest';
import { fitted, panned, screenX, screenY, type Viewport, worldX, worldY, zoomed } from './Viewport.ts';

const view: Viewport = {
  centreX: 41_237.25,
  centreY: -18_904.5,
  pxPerM: 3.7,
  stretch: 1,
  heightPxPerM: 0,
  widthPx: 1013,
  heightPx: 617,
};

test('two ends of a decimetre forty kilometres from the origin lie 40 px apart at the largest scale, to a hundredth', () => {
  const near = zoomed(view, 1e9, 300, 200);
  expect(near.pxPerM).toBe(400);
  const x = worldX(near, 300);
  // float64 at 41 km resolves 7e-12 m, 3e-9 px; float32 would leave 4 mm, 1.6 px.
  expect(screenX(near, x + 0.1) - screenX(near, x)).toBeCloseTo(40, 2);
});

test('what lies under the pointer stays there while zooming, also where heights are stretched', () => {
  for (const heightPxPerM of [0, 6])
    for (const factor of [0.03, 0.8, 1.25, 40]) {
      const start = { ...view, stretch: Math.max(1, heightPxPerM / 3.7), heightPxPerM };
      const next = zoomed(start, factor, 812, 77);
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

test('stretched heights become true by zooming in, and never more than eight times true', () => {
  const whole = fitted({ minX: 0, maxX: 5200, minY: 96, maxY: 190 }, 900, 240, true, 30);
  expect(whole.stretch).toBeGreaterThan(5);
  expect(whole.stretch).toBeLessThanOrEqual(8);
  expect(zoomed(whole, 2, 0, 0).stretch).toBeCloseTo(whole.stretch / 2, 9);
  expect(zoomed(whole, 100, 0, 0).stretch).toBe(1);
  expect(zoomed(whole, 0.1, 0, 0).stretch).toBe(8);
});
