import type { Random } from '../maths/random.ts';

/** Spots of light on the sensor in one exposure, as many rows as `count`; `source` is -1 for the background. */
export interface Spots {
  count: number;
  xPx: Float64Array;
  yPx: Float64Array;
  chargeDn: Float64Array;
  sigmaPx: Float32Array;
  source: Int16Array;
}

export const noSpots = (): Spots => ({
  count: 0,
  xPx: new Float64Array(256),
  yPx: new Float64Array(256),
  chargeDn: new Float64Array(256),
  sigmaPx: new Float32Array(256),
  source: new Int16Array(256),
});

export function addSpot(spots: Spots, x: number, y: number, chargeDn: number, sigmaPx: number, source: number): void {
  const i = spots.count;
  if (i === spots.xPx.length) {
    const twice = <A extends Float64Array | Float32Array | Int16Array>(a: A): A => {
      const bigger = new (a.constructor as new (n: number) => A)(2 * i);
      bigger.set(a);
      return bigger;
    };
    spots.xPx = twice(spots.xPx);
    spots.yPx = twice(spots.yPx);
    spots.chargeDn = twice(spots.chargeDn);
    spots.sigmaPx = twice(spots.sigmaPx);
    spots.source = twice(spots.source);
  }
  spots.xPx[i] = x;
  spots.yPx[i] = y;
  spots.chargeDn[i] = chargeDn;
  spots.sigmaPx[i] = sigmaPx;
  spots.source[i] = source;
  spots.count = i + 1;
}

/** Scatter of a photon event's place by lens and intensifier, 1 sigma per axis, px. */
export const ARRIVAL_BLUR_PX = 0.9;
/** Relative standard deviation of the pulse heights of an intensifier. */
const PULSE_HEIGHT_SD = 0.6;
const PULSE_SHAPE = 1 / PULSE_HEIGHT_SD ** 2;

/** One photon at a place of the image: scattered by the optics, its charge drawn from the pulse-height distribution. */
export function addPhoton(
  random: Random,
  spots: Spots,
  x: number,
  y: number,
  meanChargeDn: number,
  spotSigmaPx: number,
  source: number,
): void {
  const charge = (meanChargeDn * random.gamma(PULSE_SHAPE)) / PULSE_SHAPE;
  addSpot(
    spots,
    x + ARRIVAL_BLUR_PX * random.normal(),
    y + ARRIVAL_BLUR_PX * random.normal(),
    charge,
    spotSigmaPx,
    source,
  );
}

/** A charged particle through the sensor itself: a thin trail, not widened by the phosphor. */
export function addTrail(
  spots: Spots,
  from: readonly [number, number],
  to: readonly [number, number],
  chargeDn: number,
  source: number,
): void {
  const steps = Math.max(2, Math.round(2 * Math.hypot(to[0] - from[0], to[1] - from[1])));
  for (let i = 0; i <= steps; i++) {
    const at = i / steps;
    addSpot(
      spots,
      from[0] + at * (to[0] - from[0]),
      from[1] + at * (to[1] - from[1]),
      chargeDn / (steps + 1),
      TRAIL_SIGMA_PX,
      source,
    );
  }
}

export const TRAIL_SIGMA_PX = 0.6;
