import { expect, test } from 'vitest';
import { hangWire, lowPoint, parameterFromSag, sagFromParameter } from './catenary.ts';

test('300 m at 20 kN and 10 N/m sag 5.62764 m, in closed form C (cosh(L / 2C) - 1)', () => {
  expect(sagFromParameter(2000, 300, 0)).toBeCloseTo(2000 * (Math.cosh(0.075) - 1), 9);
  expect(sagFromParameter(2000, 300, 0)).toBeCloseTo(5.62764, 5);
});

test('400 m rising by 50 m at C = 1878.522 m sag 10.73935 m and are lowest 33.768 m before the lower support', () => {
  // Computed with numpy from the boundary conditions of the catenary.
  expect(sagFromParameter(1878.522, 400, 50)).toBeCloseTo(10.73935, 4);
  expect(lowPoint(1878.522, 400, 50)).toBeCloseTo(-33.768, 2);
});

test('a wire between supports 30 and 90 m above the water, 300 m apart, clears it by 54.375 m at mid-span', () => {
  // C. L. Wadhwa, Electrical Power Systems, example 7.4: T 2000 kg, 1 kg/m, so C 2000 m. Its parabola; the catenary is 8 mm lower.
  const wire = hangWire([0, 0, 30], [0, 300, 90], sagFromParameter(2000, 300, 60));
  expect(Math.abs(wire(0.5)[2] - 54.375)).toBeLessThan(0.12);
});

test('a wire goes through both its ends and hangs by its sag below the middle of the chord', () => {
  const [a, b] = [
    [3, 5, 40],
    [90, 71, 31],
  ] as const;
  const wire = hangWire(a, b, 2.3);
  for (const [share, end] of [
    [0, a],
    [1, b],
  ] as const) {
    wire(share).forEach((x, i) => {
      expect(x).toBeCloseTo(end[i]!, 7);
    });
  }
  expect(35.5 - wire(0.5)[2]).toBeCloseTo(2.3, 7);
});

test('the parameter found from a sag gives that sag', () => {
  for (const sagM of [0.4, 2.1, 8.2]) {
    expect(sagFromParameter(parameterFromSag(112, 3, sagM), 112, 3)).toBeCloseTo(sagM, 8);
  }
});
