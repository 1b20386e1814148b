/**
 * How near the lamp finder comes to what the light allows: lamps rendered event by event (or photon by photon), from thirty
 * events up to deep saturation, alone and in pairs; against the Cramér-Rao bound of the image.
 */
import { inverse, Matrix } from 'ml-matrix';
import { type Random, randomFrom } from '../../src/maths/random.ts';
import { findLamps, type LampOptics, learnBackground } from '../../src/rig/findLamps.ts';
import type { Study } from './Study.ts';

const SIDE = 64;
const LEVEL_DN = 60;
/** Of a gamma(2.8) law of pulse heights: relative variance 1 / 2.8. */
const SHAPE = 2.8;
const EXCESS = 1 + 1 / SHAPE;

interface Camera {
  readonly name: string;
  readonly optics: LampOptics;
  readonly readNoiseDn: number;
  /** Events come as spots of random charge; otherwise every photon falls into one pixel with the same charge. */
  readonly intensified: boolean;
}

const INTENSIFIED: Camera = {
  name: 'intensified',
  optics: { saturationLevel: 4095, spotSigmaPx: 1.3, blurSigmaPx: 0.9, meanChargeDn: 40 },
  readNoiseDn: 6,
  intensified: true,
};
const COARSE: Camera = {
  name: 'intensified, wide spots of high gain',
  optics: { saturationLevel: 4095, spotSigmaPx: 2, blurSigmaPx: 1.2, meanChargeDn: 400 },
  readNoiseDn: 6,
  intensified: true,
};
const PLAIN: Camera = {
  name: 'photons in pixels, no intensifier',
  optics: { saturationLevel: 4095, spotSigmaPx: 0.5, blurSigmaPx: 1.4, meanChargeDn: 40 },
  readNoiseDn: 6,
  intensified: false,
};

interface Lamp {
  readonly u: number;
  readonly v: number;
  readonly events: number;
}

function render(random: Random, camera: Camera, lamps: readonly Lamp[]) {
  const { optics, readNoiseDn, intensified } = camera;
  const signal = new Float64Array(SIDE * SIDE).map(() => LEVEL_DN + readNoiseDn * random.normal());
  // A photon without an intensifier falls where the whole blur puts it.
  const scatter = intensified ? optics.blurSigmaPx : Math.hypot(optics.blurSigmaPx, optics.spotSigmaPx);
  for (const { u, v, events } of lamps)
    for (let i = random.poisson(events); i > 0; i--) {
      const x = u + scatter * random.normal();
      const y = v + scatter * random.normal();
      if (!intensified) {
        const [px, py] = [Math.round(x), Math.round(y)];
        if (px >= 0 && py >= 0 && px < SIDE && py < SIDE) signal[py * SIDE + px] += optics.meanChargeDn;
        continue;
      }
      addSpot(signal, x, y, (optics.meanChargeDn * random.gamma(SHAPE)) / SHAPE, optics.spotSigmaPx);
    }
  const data = Uint16Array.from(signal, (s) => Math.max(0, Math.min(optics.saturationLevel, Math.round(s))));
  return { widthPx: SIDE, heightPx: SIDE, data };
}

function addSpot(signal: Float64Array, x: number, y: number, charge: number, sigma: number): void {
  const reach = Math.ceil(5 * sigma);
  const [cx, cy] = [Math.round(x), Math.round(y)];
  const along = (from: number, centre: number): Float64Array =>
    Float64Array.from({ length: 2 * reach + 1 }, (_, i) => Math.exp(-((from + i - centre) ** 2) / (2 * sigma * sigma)));
  const xs = along(cx - reach, x);
  const ys = along(cy - reach, y);
  const peak = charge / (2 * Math.PI * sigma * sigma);
  for (let j = Math.max(0, cy - reach); j <= Math.min(SIDE - 1, cy + reach); j++)
    for (let k = Math.max(0, cx - reach); k <= Math.min(SIDE - 1, cx + reach); k++)
      signal[j * SIDE + k] += peak * xs[k - cx + reach] * ys[j - cy + reach];
}

/**
 * The bound on the standard deviation of a coordinate: inverse Fisher information of the image as a Gaussian process with the
 * mean and the covariance of filtered Poisson noise, and read noise; position, brightness, radius and level unknown; pixels that are expected
 * at the limit of the sensor tell nothing. Only the mean's information counts.
 * Source: Mortensen, Churchman, Spudich & Flyvbjerg, Nature Methods 7 (2010) 377, whose limit it is for white noise;
 * Kay, Fundamentals of Statistical Signal Processing, 1993, eq. 3.31 (from memory) for the general Gaussian case.
 */
export function boundPx(camera: Camera, lamp: Lamp): number {
  const { optics, readNoiseDn, intensified } = camera;
  const radius = Math.hypot(optics.spotSigmaPx, optics.blurSigmaPx);
  const charge = lamp.events * optics.meanChargeDn;
  const peak = charge / (2 * Math.PI * radius * radius);
  // Beyond this the light is far below the read noise.
  const reach = Math.ceil(Math.max(4 * radius, radius * Math.sqrt(2 * Math.log(1 + (20 * peak) / readNoiseDn))));
  const at: [number, number, number][] = [];
  const [cx, cy] = [Math.round(lamp.u), Math.round(lamp.v)];
  for (let y = cy - reach; y <= cy + reach; y++)
    for (let x = cx - reach; x <= cx + reach; x++) {
      const r2 = (x - lamp.u) ** 2 + (y - lamp.v) ** 2;
      const mean = peak * Math.exp(-r2 / (2 * radius * radius));
      if (r2 <= reach * reach && mean + LEVEL_DN < optics.saturationLevel) at.push([x, y, mean]);
    }
  const n = at.length;
  const derivative = new Matrix(n, 5);
  const covariance = new Matrix(n, n);
  const s2 = optics.spotSigmaPx ** 2;
  const b2 = optics.blurSigmaPx ** 2;
  // Two spots' product is a spot of half the variance about the middle, blurred by the scatter of the events.
  const wide = s2 / 2 + b2;
  const lumps = (EXCESS * optics.meanChargeDn ** 2 * lamp.events) / ((2 * Math.PI) ** 2 * 2 * s2 * wide);
  at.forEach(([x, y, mean], i) => {
    const [dx, dy] = [x - lamp.u, y - lamp.v];
    const r2 = radius * radius;
    derivative.setRow(i, [(mean * dx) / r2, (mean * dy) / r2, mean, mean * ((dx * dx + dy * dy) / r2 - 2), 1]);
    for (let j = 0; j <= i; j++) {
      const [x2, y2] = at[j];
      const apart = (x - x2) ** 2 + (y - y2) ** 2;
      const off = ((x + x2) / 2 - lamp.u) ** 2 + ((y + y2) / 2 - lamp.v) ** 2;
      const shot = intensified
        ? lumps * Math.exp(-apart / (4 * s2) - off / (2 * wide))
        : i === j
          ? optics.meanChargeDn * mean
          : 0;
      const value = shot + (i === j ? readNoiseDn ** 2 + 1 / 12 : 0);
      covariance.set(i, j, value);
      covariance.set(j, i, value);
    }
  });
  const information = derivative.transpose().mmul(inverse(covariance)).mmul(derivative);
  const bound = inverse(information);
  return Math.sqrt((bound.get(0, 0) + bound.get(1, 1)) / 2);
}

interface Measured {
  readonly events: number;
  readonly saturatedPx: number;
  readonly found: number;
  readonly draws: number;
  readonly rmsPx: number;
  readonly statedPx: number;
  readonly bound: number;
  readonly biasPx: number;
}

function measure(camera: Camera, events: number, draws: number, seed: number): Measured {
  const random = randomFrom(seed);
  const background = learnBackground(Array.from({ length: 15 }, () => render(random, camera, [])));
  let squares = 0;
  let stated = 0;
  let bound = 0;
  let saturated = 0;
  let found = 0;
  const bias = [0, 0];
  for (let i = 0; i < draws; i++) {
    const lamp = { u: 31 + random.uniform(), v: 32 + random.uniform(), events };
    const [spot] = findLamps(render(random, camera, [lamp]), background, camera.optics, 3);
    if (i % 20 === 0) bound += boundPx(camera, lamp) ** 2 / Math.ceil(draws / 20);
    if (!spot || Math.hypot(spot.u - lamp.u, spot.v - lamp.v) > 3) continue;
    found++;
    bias[0] += spot.u - lamp.u;
    bias[1] += spot.v - lamp.v;
    squares += ((spot.u - lamp.u) ** 2 + (spot.v - lamp.v) ** 2) / 2;
    stated += spot.sigmaPx ** 2;
    saturated += spot.saturatedPx;
  }
  return {
    events,
    saturatedPx: saturated / found,
    found,
    draws,
    rmsPx: Math.sqrt(squares / found),
    statedPx: Math.sqrt(stated / found),
    bound: Math.sqrt(bound),
    biasPx: Math.hypot(bias[0], bias[1]) / found,
  };
}

/** Two lamps at once: the weaker one's error, as a multiple of its own bound alone. */
interface Pair {
  readonly apartPx: number;
  readonly told: number;
  readonly draws: number;
  readonly rmsPx: number;
  readonly pullPx: number;
  readonly bound: number;
}

function measurePair(apartPx: number, bright: number, faint: number, draws: number, seed: number): Pair {
  const random = randomFrom(seed);
  const background = learnBackground(Array.from({ length: 15 }, () => render(random, INTENSIFIED, [])));
  let told = 0;
  let squares = 0;
  let pull = 0;
  let bound = 0;
  for (let i = 0; i < draws; i++) {
    const turn = 2 * Math.PI * random.uniform();
    const a = { u: 28 + random.uniform(), v: 32 + random.uniform(), events: bright };
    const b = { u: a.u + apartPx * Math.cos(turn), v: a.v + apartPx * Math.sin(turn), events: faint };
    const found = findLamps(render(random, INTENSIFIED, [a, b]), background, INTENSIFIED.optics, 5);
    const spot = found.find((s) => Math.hypot(s.u - b.u, s.v - b.v) < Math.min(2, apartPx / 2));
    if (i % 50 === 0) bound += boundPx(INTENSIFIED, b) ** 2 / Math.ceil(draws / 50);
    if (!spot || !found.some((s) => s !== spot && Math.hypot(s.u - a.u, s.v - a.v) < apartPx / 2)) continue;
    told++;
    squares += ((spot.u - b.u) ** 2 + (spot.v - b.v) ** 2) / 2;
    // Towards the bright one counts as positive.
    pull += ((a.u - b.u) * (spot.u - b.u)) / apartPx + ((a.v - b.v) * (spot.v - b.v)) / apartPx;
  }
  return { apartPx, told, draws, rmsPx: Math.sqrt(squares / told), pullPx: pull / told, bound: Math.sqrt(bound) };
}

const EVENTS = [30, 60, 120, 300, 1000, 3000, 10000, 30000];
const APART_PX = [4, 5, 6, 8, 12];

export const study: Study = ({ seeds = 200, firstSeed = 1, progress }) => {
  const sections: string[] = [];
  let worst = 0;
  let lost = 0;
  for (const camera of [INTENSIFIED, COARSE, PLAIN]) {
    const { optics } = camera;
    const rows = EVENTS.map((events, i) => {
      const m = measure(camera, events, seeds, firstSeed + 1000 * i);
      const ratio = m.rmsPx / m.bound;
      worst = Math.max(worst, ratio);
      lost += m.draws - m.found;
      // Two coordinates a draw: chi-square, near enough normal at these numbers.
      const half = 1.96 * ratio * Math.sqrt(1 / (4 * m.found));
      progress(`${camera.name}, ${events} events: ${ratio.toFixed(3)} of the bound`);
      return `| ${events} | ${m.saturatedPx.toFixed(0)} | ${m.found} of ${m.draws} | ${m.rmsPx.toFixed(4)} | ${m.bound.toFixed(4)} | ${ratio.toFixed(2)} [${(ratio - half).toFixed(2)}, ${(ratio + half).toFixed(2)}] | ${m.biasPx.toFixed(4)} | ${(m.statedPx / m.rmsPx).toFixed(2)} |`;
    });
    sections.push(
      `## ${camera.name[0].toUpperCase()}${camera.name.slice(1)}`,
      '',
      `Events of ${optics.meanChargeDn} DN, ${camera.intensified ? `each a spot of ${optics.spotSigmaPx} px (1 sigma) with a gamma(${SHAPE}) charge, scattered by ${optics.blurSigmaPx} px` : `each in one pixel, scattered by ${Math.hypot(optics.blurSigmaPx, optics.spotSigmaPx).toFixed(2)} px`}; read noise ${camera.readNoiseDn} DN, limit ${optics.saturationLevel} DN.`,
      '',
      '| events | saturated px | found | RMS error, px | bound, px | error / bound [95 %] | mean error, px | stated / RMS |',
      '|---|---|---|---|---|---|---|---|',
      ...rows,
      '',
    );
  }
  const pairs = APART_PX.map((apartPx, i) => {
    const m = measurePair(apartPx, 1000, 300, seeds, firstSeed + 50000 + 1000 * i);
    progress(`pair ${apartPx} px apart: ${(m.rmsPx / m.bound).toFixed(3)}, told ${m.told}`);
    const shown = (value: number, digits: number): string => (m.told === 0 ? '–' : value.toFixed(digits));
    return `| ${apartPx} | ${m.told} of ${m.draws} | ${shown(m.rmsPx, 4)} | ${shown(m.rmsPx / m.bound, 2)} | ${shown(m.pullPx, 4)} |`;
  });
  sections.push(
    '## Two lamps near each other',
    '',
    'A lamp of 300 events beside one of 1000, first camera, in any direction: how often both are told apart, and the error of the fainter one against its bound were it alone.',
    '',
    '| apart, px | told apart | RMS error, px | error / bound alone | drawn towards the bright one, px |',
    '|---|---|---|---|---|',
    ...pairs,
  );
  return {
    title: 'Lamps',
    headline: `Position error of a lamp at most ${worst.toFixed(2)} times its Cramér-Rao bound, from 30 events to 30 000 in three cameras, saturation included; ${lost} of ${3 * EVENTS.length * seeds} not found.`,
    markdown: [
      `Each row: ${seeds} draws, a lamp at random sub-pixel places, rendered event by event, not by the model that is fitted. The bound is the inverse Fisher information of the image taken as a Gaussian process with the mean and the covariance of filtered Poisson noise plus read noise, with position, brightness, radius and level unknown and saturated pixels left out; for white noise it is the bound of Mortensen, Churchman, Spudich & Flyvbjerg (Nature Methods 7, 2010, 377), for a bright lamp without background Thompson's radius / sqrt(events), times the root of the excess noise of the charges.`,
      '',
      ...sections,
    ].join('\n'),
  };
};
