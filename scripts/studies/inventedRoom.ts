/**
 * Frames of an intensified camera in a dark room, every photon known: offset with a pattern, read noise, spots integrated over each
 * pixel, afterglow of the frame before, lone pixels, rounding, saturation. Written for the studies; shares nothing with what finds photons.
 */
import { normalCdf } from '../../src/maths/distributions.ts';
import type { Random } from '../../src/maths/random.ts';

export interface InventedRoom {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly bitDepth: 8 | 16;
  readonly saturationLevel: number;
  readonly spotSigmaPx: number;
  readonly readNoiseDn: number;
  readonly offsetDn: number;
  /** Share of its signal that the phosphor gives off again in the next frame. */
  readonly afterglowShare: number;
}

export interface InventedSpot {
  readonly xPx: number;
  readonly yPx: number;
  readonly chargeDn: number;
}

/** Relative standard deviation of the charge of one photon, gamma distributed. */
export const PULSE_SPREAD = 0.6;

export const pulseDn = (random: Random, meanDn: number): number =>
  meanDn * random.gamma(1 / PULSE_SPREAD ** 2) * PULSE_SPREAD ** 2;

/** Renders frame after frame; each knows the one before. */
export function startRoom(room: InventedRoom, random: Random) {
  const { widthPx, heightPx } = room;
  const n = widthPx * heightPx;
  const columns = Float64Array.from({ length: widthPx }, () => room.offsetDn * (1 + 0.1 * random.normal()));
  const pattern = Float64Array.from(
    { length: n },
    (_, i) => columns[i % widthPx] + 0.3 * room.readNoiseDn * random.normal(),
  );
  let light = new Float64Array(n);
  return (
    spots: readonly InventedSpot[],
    extra: { readonly shiftDn?: number; readonly lonePixels?: ReadonlyMap<number, number> } = {},
  ) => {
    const before = light;
    light = new Float64Array(n);
    for (const spot of spots) deposit(light, room, spot);
    const data = room.bitDepth === 8 ? new Uint8Array(n) : new Uint16Array(n);
    for (let i = 0; i < n; i++) {
      const dn =
        pattern[i] +
        (extra.shiftDn ?? 0) +
        light[i] +
        room.afterglowShare * before[i] +
        room.readNoiseDn * random.normal();
      data[i] = Math.max(0, Math.min(room.saturationLevel, Math.round(dn)));
    }
    for (const [at, dn] of extra.lonePixels ?? []) data[at] = Math.min(room.saturationLevel, data[at] + dn);
    return { widthPx, heightPx, data };
  };
}

function deposit(light: Float64Array, { widthPx, heightPx, spotSigmaPx }: InventedRoom, spot: InventedSpot): void {
  const reach = Math.ceil(6 * spotSigmaPx);
  const left = Math.max(0, Math.round(spot.xPx) - reach);
  const right = Math.min(widthPx - 1, Math.round(spot.xPx) + reach);
  const across = shares(left, right, spot.xPx, spotSigmaPx);
  const top = Math.max(0, Math.round(spot.yPx) - reach);
  const bottom = Math.min(heightPx - 1, Math.round(spot.yPx) + reach);
  const down = shares(top, bottom, spot.yPx, spotSigmaPx);
  for (let y = top; y <= bottom; y++)
    for (let x = left; x <= right; x++) light[y * widthPx + x] += spot.chargeDn * down[y - top] * across[x - left];
}

/** Share of a Gaussian that falls into each pixel from first to last. */
function shares(first: number, last: number, at: number, sigma: number): Float64Array {
  const out = new Float64Array(Math.max(0, last - first + 1));
  let below = normalCdf((first - 0.5 - at) / sigma);
  for (let i = 0; i < out.length; i++) {
    const upTo = normalCdf((first + i + 0.5 - at) / sigma);
    out[i] = upTo - below;
    below = upTo;
  }
  return out;
}
