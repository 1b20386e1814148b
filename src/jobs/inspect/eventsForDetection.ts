import { normalCdf, normalQuantile } from '../../maths/distributions.ts';
import { lightOfPasses } from '../../sighting/halfWave.ts';

/** Nodes of equal weight for each of: place across the smear, blur along it, moment of the exposure. */
const NODES = 8;
/** Spread of a place in the image that the search allows for beyond the scatter of events: attitude from frame to frame, px. */
const ATTITUDE_PX = 0.3;
/** A fitted place exceeds the true one by half a chi-square of its three coordinates, in the mean. */
const FITTED_PLACE = 1.5;
/** Share of a pass that the way of a place over the image takes of `crossingPx`, where none is given: a narrow picture. */
const USUAL_CROSSING_PX = 600;
/** Phases of the mains over which a pass is averaged. */
const PHASES = 40;
/** More events than this in a pass are asked of no source. */
const MOST_EVENTS = 1000;

export interface DetectionConditions {
  /** ln likelihood ratio that a sighting must reach. */
  readonly threshold: number;
  readonly framesInView: number;
  readonly backgroundPerPx: number;
  /** Scatter of a point source's events, px. */
  readonly sigmaPx: number;
  readonly exposureS: number;
  readonly frameRateHz: number;
  /** Way of a place over the image in the frames in view, px; sets the smear. */
  readonly crossingPx?: number;
  /** Share of events that the finder finds; the number returned is before this loss. Default 1. */
  readonly finderEfficiency?: number;
  /**
   * Mean size of the (geometric) bunches in which events come. Default 1: Poisson, which a source near its limit comes to: a pulse that
   * the camera sees anything of at all gives it one event.
   */
  readonly bunch?: number;
  /** Events of one instant nearer to each other than this come out as one. Default 0. */
  readonly mergePx?: number;
  /** Light on one half-wave of such mains, its phase unknown. Default: steady light. */
  readonly mainsHz?: number;
}

/**
 * The mean number of events in a pass that is found with 95 %, from the flight's threshold and background.
 * n events in F frames, in the true place, give the ln likelihood ratio sum ln(1 + n f / (F b)) - n, where f is the source's density
 * at an event and b the background's, both a pixel and frame. Its mean and spread over the events of a Gaussian drawn out by the
 * smear are taken by quadrature; n is Poisson, or made of bunches, its mean the light that the phase of the mains lets into the
 * exposures of the pass; the sum is taken as normal.
 * @returns infinity where exposures in step with the mains see no light in more passes than may be missed
 * Accuracy: docs/accuracy/limits.md sets it against injection.
 */
export function eventsForDetection(of: DetectionConditions): number {
  const frames = Math.max(1, of.framesInView);
  const smearPx = ((of.crossingPx ?? USUAL_CROSSING_PX) / frames) * of.exposureS * of.frameRateHz;
  const excess = densityOverBackground(Math.hypot(of.sigmaPx, ATTITUDE_PX), smearPx, of.backgroundPerPx);
  // Chance that n events reach the threshold, for as many n as matter.
  const reach: number[] = [0];
  for (let n = 1; n < 2000 && (reach[n - 1] ?? 0) < 1 - 1e-6; n++) reach.push(chanceToReach(n));
  // Of a bunch, the first event and those that lie apart from it: geometric again.
  const apart = Math.exp(-((of.mergePx ?? 0) ** 2) / (4 * (of.sigmaPx ** 2 + ATTITUDE_PX ** 2)));
  const shining = of.bunch ?? 1;
  const bunch = 1 + (shining - 1) * apart;
  const lights =
    of.mainsHz === undefined
      ? Float64Array.of(1)
      : lightOfPasses({ ...of, mainsHz: of.mainsHz, frames, phases: PHASES });
  const foundSteady = (mean: number): number =>
    1 - chancesOfCount(mean, bunch, reach.length).reduce((missed, chance, n) => missed + chance * (1 - reach[n]), 0);
  const found = (mean: number): number =>
    lights.reduce((sum, light) => sum + foundSteady(mean * light), 0) / lights.length;
  let low = 0;
  let high = 4;
  while (found(high) < 0.95) {
    high *= 2;
    if (high > MOST_EVENTS) return Number.POSITIVE_INFINITY;
  }
  for (let i = 0; i < 40; i++) {
    const middle = (low + high) / 2;
    if (found(middle) < 0.95) low = middle;
    else high = middle;
  }
  return (high * shining) / bunch / (of.finderEfficiency ?? 1);

  function chanceToReach(n: number): number {
    let sum = 0;
    let squares = 0;
    for (const ratio of excess) {
      const gain = Math.log1p((n / frames) * ratio);
      sum += gain;
      squares += gain * gain;
    }
    const mean = sum / excess.length;
    const spread = Math.sqrt(n * Math.max(1e-6, squares / excess.length - mean * mean));
    return normalCdf((n * (mean - 1) + FITTED_PLACE - of.threshold) / spread);
  }
}

/** A pass as long as most are, frames, and the share of dark passes from which on limits of detection come with a warning. */
export const USUAL_FRAMES_IN_VIEW = 100;
export const MOST_DARK = 0.05;

/**
 * The same for passes of various lengths, each worked out once. Where exposures are so short, and so much in step with the mains, that no
 * strength of light on one half-wave is found with 95 %, the number is that of steady light: see `shareOfDarkPasses`.
 */
export function eventsByFramesInView(of: Omit<DetectionConditions, 'framesInView'>): (framesInView: number) => number {
  const known = new Map<number, number>();
  return (framesInView) => {
    const before = known.get(framesInView);
    if (before !== undefined) return before;
    const onMains = eventsForDetection({ ...of, framesInView });
    const needed = Number.isFinite(onMains) ? onMains : eventsForDetection({ ...of, framesInView, mainsHz: undefined });
    known.set(framesInView, needed);
    return needed;
  };
}

/**
 * Chances of 0, 1 ... events where bunches come as a Poisson process and their sizes are geometric.
 * Source: Panjer's recursion, ASTIN Bulletin 12 (1981) 22 (from memory).
 */
function chancesOfCount(mean: number, bunch: number, count: number): Float64Array {
  const bunches = mean / bunch;
  const chances = new Float64Array(count);
  chances[0] = Math.exp(-bunches);
  const stays = 1 - 1 / bunch;
  for (let n = 1; n < count; n++) {
    let sum = 0;
    for (let size = 1, of = 1 / bunch; size <= n; size++, of *= stays) {
      if (of < 1e-12) break;
      sum += size * of * chances[n - size];
    }
    chances[n] = (bunches / n) * sum;
  }
  return chances;
}

/** Density of a smeared Gaussian source over that of the background, at the places where its events fall. */
function densityOverBackground(sigmaPx: number, smearPx: number, backgroundPerPx: number): Float64Array {
  const node = (i: number): number => (i + 0.5) / NODES;
  const z = Array.from({ length: NODES }, (_, i) => normalQuantile(node(i)));
  const half = smearPx / 2;
  const out = new Float64Array(NODES ** 3);
  let at = 0;
  for (const across of z) {
    const crossPerPx = Math.exp((-across * across) / 2) / (Math.sqrt(2 * Math.PI) * sigmaPx);
    for (const blur of z)
      for (let i = 0; i < NODES; i++) {
        const along = blur + ((2 * node(i) - 1) * half) / sigmaPx;
        const alongPerPx =
          half < 0.05 * sigmaPx
            ? Math.exp((-along * along) / 2) / (Math.sqrt(2 * Math.PI) * sigmaPx)
            : (normalCdf(along + half / sigmaPx) - normalCdf(along - half / sigmaPx)) / smearPx;
        out[at++] = (crossPerPx * alongPerPx) / backgroundPerPx;
      }
  }
  return out;
}
