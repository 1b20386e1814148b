import { type Random, randomFrom } from '../maths/random.ts';
import { CHANCE } from './chance.ts';
import { meanChargeDn } from './meanCharge.ts';
import { addPhoton, noSpots, type Spots } from './Spots.ts';
import { directionOf, isInside, seenAt } from './TrueLens.ts';
import { HIGHEST_RESPONSE, pointResponse } from './unevenness.ts';
import type { World } from './World.ts';

/** Frames of a gain series that are taken alike. */
export interface SeriesStretch {
  readonly light: 'none' | 'even' | 'lamp';
  readonly gain: number;
  readonly exposureMs: number;
  readonly frames: number;
}

export const SERIES_RATE_HZ = 50;
const EVEN_EVENTS_PER_MS = 2;
const DARK_EVENTS_PER_S = 22;
const LAMP_EVENTS_PER_MS = 2;
const LAMP_EXPOSURE_MS = 8;
/** Radius of the lamp's picture, 1 sigma, px: it stands near and a little out of focus. */
const LAMP_SIGMA_PX = 1.1;

const stretch = (light: SeriesStretch['light'], gain: number, exposureMs: number, frames: number): SeriesStretch => ({
  light,
  gain,
  exposureMs,
  frames,
});

/** Dark frames, even light at three exposures, and a steady lamp from the lowest gain to where it saturates. */
export const SERIES: readonly SeriesStretch[] = [
  ...[5, 6, 7, 8].map((gain) => stretch('none', gain, 18, gain === 5 ? 90 : 60)),
  ...[5, 6, 7, 8].flatMap((gain) => [5, 10, 18].map((exposureMs) => stretch('even', gain, exposureMs, 36))),
  ...[2, 3, 4, 5, 6, 7].map((gain) => stretch('lamp', gain, LAMP_EXPOSURE_MS, 60)),
];

/** Truth of a series: what its measuring must find. */
export function seriesTruth(world: World): object {
  return {
    format: 'corposant-truth',
    version: 1,
    series: {
      gains: [...new Set(SERIES.map(({ gain }) => gain))]
        .sort((a, b) => a - b)
        .map((gain) => ({ gain, meanChargeDn: meanChargeDn(world.rig, gain) })),
      darkEventsPerS: DARK_EVENTS_PER_S,
      evenEventsPerS: 1000 * EVEN_EVENTS_PER_MS,
      lampEventsPerFrame: LAMP_EVENTS_PER_MS * LAMP_EXPOSURE_MS,
    },
  };
}

type Px = readonly [number, number];

/**
 * Where an event of even light falls: the camera looks into a sphere that is equally bright from everywhere, so directions are drawn evenly
 * over the sphere, and what the camera does not respond to is drawn again.
 */
function skyLight({ uvLens, unevenness }: World['rig']): (random: Random) => Px {
  const responseAt = pointResponse(unevenness);
  const corners = [0, uvLens.widthPx - 1].flatMap((u) =>
    [0, uvLens.heightPx - 1].map((v) => Math.hypot(...directionOf(uvLens, u, v))),
  );
  // A little wider than the farthest corner.
  const leastCosine = 1 / Math.hypot(1, 1.02 * Math.max(...corners));
  return (random) => {
    for (;;) {
      const z = leastCosine + (1 - leastCosine) * random.uniform();
      const angle = 2 * Math.PI * random.uniform();
      const r = Math.sqrt(1 - z * z);
      const px = seenAt(uvLens, [r * Math.cos(angle), r * Math.sin(angle), z]);
      if (px && isInside(uvLens, px) && HIGHEST_RESPONSE * random.uniform() < responseAt(px[0], px[1])) return px;
    }
  };
}

export interface SeriesExposure {
  readonly spots: Spots;
  readonly tS: number;
  readonly stretch: SeriesStretch;
}

/** The photon arrivals of a gain series, any frame in any order. */
export function seriesExposures(world: World): (frame: number) => SeriesExposure {
  const { widthPx, heightPx, spotSigmaPx } = world.rig.nominal.cameras.uv;
  const chance = randomFrom(world.seed).fork(CHANCE.series);
  const skyAt = skyLight(world.rig);
  const lamp = [widthPx * (0.4 + 0.2 * chance.uniform()), heightPx * (0.4 + 0.2 * chance.uniform())] as const;
  const ends: number[] = [];
  for (const { frames } of SERIES) ends.push((ends.at(-1) ?? 0) + frames);
  return (frame) => {
    const of = SERIES[ends.findIndex((end) => frame < end)]!;
    const random = chance.fork(frame);
    const charge = meanChargeDn(world.rig, of.gain);
    const spots = noSpots();
    const anywhere = (): Px => [random.uniform() * widthPx - 0.5, random.uniform() * heightPx - 0.5];
    const strew = (mean: number, place: () => Px): void => {
      for (let i = random.poisson(mean); i > 0; i--) {
        const [u, v] = place();
        addPhoton(random, spots, u, v, charge, spotSigmaPx, -1);
      }
    };
    strew((DARK_EVENTS_PER_S * of.exposureMs) / 1000, anywhere);
    if (of.light === 'even') strew(EVEN_EVENTS_PER_MS * of.exposureMs, () => skyAt(random));
    if (of.light === 'lamp')
      for (let i = random.poisson(LAMP_EVENTS_PER_MS * of.exposureMs); i > 0; i--) {
        const [x, y] = [lamp[0] + LAMP_SIGMA_PX * random.normal(), lamp[1] + LAMP_SIGMA_PX * random.normal()];
        addPhoton(random, spots, x, y, charge, spotSigmaPx, 0);
      }
    return { spots, tS: frame / SERIES_RATE_HZ, stretch: of };
  };
}
