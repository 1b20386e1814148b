import type { Vec3 } from './vec3.ts';

/**
 * Position and velocity at the fraction `at` of the way from row a to row b, by the cubic that takes both ends'
 * positions and velocities. `position` and `velocity` hold 3 numbers a row.
 */
export function hermite(
  position: Float64Array,
  velocity: Float64Array,
  a: number,
  b: number,
  lengthS: number,
  at: number,
): { position: Vec3; velocity: Vec3 } {
  const rest = 1 - at;
  const fromA = rest * rest * (1 + 2 * at);
  const fromB = at * at * (1 + 2 * rest);
  const slopeA = at * rest * rest * lengthS;
  const slopeB = -at * at * rest * lengthS;
  const perS = (6 * at * rest) / lengthS;
  const rateA = rest * (1 - 3 * at);
  const rateB = at * (3 * at - 2);
  const x: [number, number, number] = [0, 0, 0];
  const dx: [number, number, number] = [0, 0, 0];
  for (let k = 0; k < 3; k++) {
    const pa = position[3 * a + k];
    const pb = position[3 * b + k];
    const va = velocity[3 * a + k];
    const vb = velocity[3 * b + k];
    x[k] = fromA * pa + fromB * pb + slopeA * va + slopeB * vb;
    dx[k] = perS * (pb - pa) + rateA * va + rateB * vb;
  }
  return { position: x, velocity: dx };
}
