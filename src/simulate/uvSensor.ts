import { normalCdf } from '../maths/distributions.ts';
import { randomFrom } from '../maths/random.ts';
import { CHANCE } from './chance.ts';
import { type Spots, TRAIL_SIGMA_PX } from './Spots.ts';
import type { World } from './World.ts';

/** Share of a spot's charge that the phosphor gives off in the next frame. */
export const AFTERGLOW_SHARE = 0.05;
const STANDING_HOT_PIXELS = 14;
/** Prepared normal numbers; every row of every frame starts at another place of them. */
const NOISE_LENGTH = 1 << 20;

export interface UvSensor {
  /** Reads out one exposure into `out` (width x height): offset pattern, drift, noise, spots, afterglow, hot pixels, limits. */
  readInto(
    out: Uint8ClampedArray | Uint16Array,
    exposure: {
      readonly spots: Spots;
      readonly previous: Spots | null;
      readonly tS: number;
      readonly chanceKey: number;
    },
  ): void;
}

/** The ultraviolet camera of a world behind its phosphor. One sensor, whatever recording it makes. */
export function uvSensor(world: World): UvSensor {
  const { widthPx, heightPx, bitDepth, saturationLevel } = world.rig.nominal.cameras.uv;
  const dn = bitDepth === 16 ? 8 : 1;
  const chance = randomFrom(world.seed).fork(CHANCE.camera);
  const offset = new Float32Array(widthPx * heightPx);
  const columns = Float32Array.from({ length: widthPx }, () => dn * (10 + 0.8 * chance.normal()));
  for (let i = 0; i < offset.length; i++) offset[i] = columns[i % widthPx]! + dn * 0.35 * chance.normal();
  const noise = Float32Array.from({ length: NOISE_LENGTH }, () => 1.2 * dn * chance.normal());
  const hot = Array.from({ length: STANDING_HOT_PIXELS }, () => ({
    at: Math.floor(chance.uniform() * offset.length),
    levelDn: dn * (15 + 40 * chance.exponential()),
  }));
  const comesAndGoes = world.flight.sources.flatMap((s) => (s.kind === 'trap' && s.trap === 'hot pixel' ? [s] : []));
  const signal = new Float32Array(widthPx * heightPx);

  return {
    readInto(out, { spots, previous, tS, chanceKey }) {
      const random = chance.fork(chanceKey);
      const drift = dn * 0.3 * Math.sin(tS / 17);
      for (let row = 0; row < heightPx; row++) {
        let n = Math.floor(random.uniform() * (NOISE_LENGTH - widthPx));
        const end = (row + 1) * widthPx;
        for (let i = row * widthPx; i < end; i++) signal[i] = offset[i]! + drift + noise[n++]!;
      }
      depositSpots(signal, widthPx, heightPx, spots, 1);
      if (previous) depositSpots(signal, widthPx, heightPx, previous, AFTERGLOW_SHARE);
      for (const pixel of hot)
        signal[pixel.at] = signal[pixel.at]! + pixel.levelDn + Math.sqrt(dn * pixel.levelDn) * random.normal();
      for (const pixel of comesAndGoes) {
        if (!pixel.onS.some(([from, to]) => tS >= from && tS < to)) continue;
        const at = pixel.atPx[1] * widthPx + pixel.atPx[0];
        signal[at] = signal[at]! + pixel.levelDn + 2 * Math.sqrt(dn * pixel.levelDn) * random.normal();
      }
      if (out instanceof Uint16Array) {
        for (let i = 0; i < signal.length; i++) {
          out[i] = Math.max(0, Math.min(saturationLevel, signal[i]! + 0.5));
        }
      } else {
        out.set(signal); // a clamped array rounds to nearest and keeps to 0..255
      }
    },
  };
}

const xs = new Float64Array(64);

/** Adds round Gaussian spots of charge Q and radius s (1 sigma, before the pixels' own width) to the picture. */
export function depositSpots(
  signal: Float32Array,
  widthPx: number,
  heightPx: number,
  spots: Spots,
  share: number,
): void {
  for (let i = 0; i < spots.count; i++) {
    const sigma = spots.sigmaPx[i]!;
    if (share < 1 && sigma <= TRAIL_SIGMA_PX * 1.001) continue; // a particle in the sensor lights no phosphor
    const charge = spots.chargeDn[i]! * share;
    const [x, y] = [spots.xPx[i]!, spots.yPx[i]!];
    // Out to where the tail of even the brightest spot is far below the read noise.
    const reach = Math.ceil(sigma * Math.sqrt(2 * Math.log(Math.max(2, charge / (0.01 * sigma * sigma)))));
    const left = Math.max(0, Math.round(x) - reach);
    const right = Math.min(widthPx - 1, Math.round(x) + reach);
    const top = Math.max(0, Math.round(y) - reach);
    const bottom = Math.min(heightPx - 1, Math.round(y) + reach);
    if (left > right || top > bottom) continue;
    // A pixel collects over its whole width.
    for (let u = left, below = normalCdf((left - 0.5 - x) / sigma); u <= right; u++) {
      const next = normalCdf((u + 0.5 - x) / sigma);
      xs[u - left] = next - below;
      below = next;
    }
    let above = normalCdf((top - 0.5 - y) / sigma);
    for (let v = top; v <= bottom; v++) {
      const next = normalCdf((v + 0.5 - y) / sigma);
      const rowPeak = charge * (next - above);
      above = next;
      const row = v * widthPx;
      for (let u = left; u <= right; u++) signal[row + u] = signal[row + u]! + rowPeak * xs[u - left]!;
    }
  }
}
