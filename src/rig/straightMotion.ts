import { add, scale, subtract, type Vec3 } from '../maths/vec3.ts';

/** The straight, even motion nearest to places at given times, least squares: where it is at time zero, and its velocity. */
export function straightMotion(
  timesS: readonly number[],
  placesM: readonly Vec3[],
): { readonly atM: Vec3; readonly velocityMps: Vec3 } {
  const n = timesS.length;
  const meanS = timesS.reduce((a, b) => a + b, 0) / n;
  const middle = scale(placesM.reduce<Vec3>(add, [0, 0, 0]), 1 / n);
  let squares = 0;
  let slope: Vec3 = [0, 0, 0];
  timesS.forEach((t, i) => {
    squares += (t - meanS) ** 2;
    slope = add(slope, scale(subtract(placesM[i], middle), t - meanS));
  });
  const velocityMps: Vec3 = squares > 0 ? scale(slope, 1 / squares) : [0, 0, 0];
  return { atM: subtract(middle, scale(velocityMps, meanS)), velocityMps };
}
