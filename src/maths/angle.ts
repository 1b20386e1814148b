export const RAD_PER_DEG = Math.PI / 180;
export const DEG_PER_RAD = 180 / Math.PI;

export const radFromDeg = (deg: number): number => deg * RAD_PER_DEG;
export const degFromRad = (rad: number): number => rad * DEG_PER_RAD;

/** The same angle in [0, 360). */
export function wrapDeg360(deg: number): number {
  const wrapped = deg % 360;
  return wrapped < 0 ? wrapped + 360 : wrapped;
}

/** The same angle in [-180, 180). */
export const wrapDeg180 = (deg: number): number => wrapDeg360(deg + 180) - 180;
