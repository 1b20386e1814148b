import type { GreyFrame } from '../camera/GreyFrame.ts';
import { normalCdf } from '../maths/distributions.ts';
import type { Random } from '../maths/random.ts';

/** A camera in a dark room for tests: frames whose every photon is known. Shares no code with the finder. */
export const ROOM_CAMERA = {
  widthPx: 160,
  heightPx: 120,
  bitDepth: 8,
  spotSigmaPx: 1.3,
  saturationLevel: 255,
  gainCurve: [
    { gain: 0, meanChargeDn: 40 },
    { gain: 1, meanChargeDn: 120 },
    { gain: 2, meanChargeDn: 360 },
  ],
};

export interface TrueSpot {
  readonly xPx: number;
  readonly yPx: number;
  readonly charge: number;
}

export const READ_NOISE_DN = 1.2;

/** Gamma pulse heights of relative standard deviation 0.6. */
export const pulseHeight = (random: Random, meanCharge: number): number => random.gamma(1 / 0.36) * 0.36 * meanCharge;

export function spotsAtRandom(random: Random, meanCount: number, meanCharge: number, marginPx = 0): TrueSpot[] {
  return Array.from({ length: random.poisson(meanCount) }, () => ({
    xPx: marginPx + random.uniform() * (ROOM_CAMERA.widthPx - 1 - 2 * marginPx),
    yPx: marginPx + random.uniform() * (ROOM_CAMERA.heightPx - 1 - 2 * marginPx),
    charge: pulseHeight(random, meanCharge),
  }));
}

/** Offset with a pattern of columns, Gaussian read noise, spots integrated over each pixel, rounded and clipped to 8 bit. */
export function renderRoom(
  random: Random,
  spots: readonly TrueSpot[],
  extras: { readonly offsetDn?: number; readonly lonePixels?: ReadonlyMap<number, number> } = {},
): GreyFrame {
  const { widthPx, heightPx, spotSigmaPx } = ROOM_CAMERA;
  const signal = new Float64Array(widthPx * heightPx);
  for (const { xPx, yPx, charge } of spots) {
    for (let y = Math.max(0, Math.floor(yPx - 8)); y <= Math.min(heightPx - 1, yPx + 9); y++) {
      const gy = normalCdf((y + 0.5 - yPx) / spotSigmaPx) - normalCdf((y - 0.5 - yPx) / spotSigmaPx);
      for (let x = Math.max(0, Math.floor(xPx - 8)); x <= Math.min(widthPx - 1, xPx + 9); x++) {
        const gx = normalCdf((x + 0.5 - xPx) / spotSigmaPx) - normalCdf((x - 0.5 - xPx) / spotSigmaPx);
        signal[y * widthPx + x] += charge * gx * gy;
      }
    }
  }
  const data = new Uint8Array(widthPx * heightPx);
  for (let i = 0; i < data.length; i++) {
    const column = i % widthPx;
    const offset = (extras.offsetDn ?? 10) + 1.5 * Math.sin(column * 2.399) + (column % 7 === 3 ? 1 : 0);
    const value = offset + signal[i] + (extras.lonePixels?.get(i) ?? 0) + READ_NOISE_DN * random.normal();
    data[i] = Math.max(0, Math.min(255, Math.round(value)));
  }
  return { widthPx, heightPx, data };
}
