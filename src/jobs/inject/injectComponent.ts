import type { LineComponent, LineModel } from '../../line/LineModel.ts';
import { type Random, randomFrom } from '../../maths/random.ts';
import { distance, type Vec3 } from '../../maths/vec3.ts';
import { axisLengthM, pointOnAxis } from '../../place/axis.ts';
import { type ComponentCoverage, coverComponents } from '../../place/coverComponents.ts';
import {
  fitDetectionCurve,
  intervalOfRate,
  rateFoundOnCurve,
  type TrialsAtRate,
  wilsonInterval,
} from '../../sighting/detectionCurve.ts';
import { halfWave } from '../../sighting/halfWave.ts';
import type { SyntheticSource } from '../../sighting/injectSource.ts';
import { GAP_FRAMES } from '../../sighting/pointSource.ts';
import { type SearchedFlight, tryInjection, type ViewOfPlace, viewsOfPlace } from '../../sighting/tryInjection.ts';
import { eventsByFramesInView } from '../inspect/eventsForDetection.ts';
import { PARAMETERS } from '../inspect/parameters.ts';
import { Interrupted, type JobWatch } from '../JobWatch.ts';

export interface InjectionConditions {
  readonly ratesHz: readonly number[];
  /** Where along the component's axis, 0 to 1; null: at its least well seen place. */
  readonly along: number | null;
  readonly trials: number;
  readonly bunch: number;
  readonly onMains: boolean;
  readonly seed: number;
  readonly eventsPerPhotonAt: (rangeM: number) => number;
  readonly finderEfficiency: number;
  readonly backgroundPerFrame: number;
  readonly spotSigmaPx: number;
  readonly exposureS: number;
  readonly frameRateHz: number;
  readonly mainsHz: number;
  /** How a source is added and searched for. Default: `tryInjection`, among the flight's events. */
  readonly tryOne?: TryOne;
  readonly watch: JobWatch;
}

export type TryOne = (
  flight: SearchedFlight,
  view: ViewOfPlace,
  source: SyntheticSource,
  random: Random,
) => ReturnType<typeof tryInjection> | Promise<ReturnType<typeof tryInjection>>;

/** What injection says of one component, at its least well seen place. */
export interface ComponentInjection {
  readonly componentId: string;
  readonly kind: string;
  /** From 0 at the start of the component's axis to 1 at its end. */
  readonly along: number;
  readonly passes: number;
  readonly framesInView: number;
  readonly nearestRangeM: number | null;
  /** null: not seen, so that nothing was injected. */
  readonly analyticLimitHz: number | null;
  readonly points: readonly (TrialsAtRate & {
    readonly probability: number;
    readonly lower95: number;
    readonly upper95: number;
    /** Synthetic events in a trial, mean over all passes together. */
    readonly meanEvents: number;
    /** Trials in which each pass, taken alone, found the source; in order of `views`. */
    readonly foundByPass: readonly number[];
  })[];
  /** The passes that were searched, in order of time. */
  readonly views: readonly { readonly frames: number; readonly nearestM: number }[];
  /** Photons per second found with 95 %; null where the trials do not say. */
  readonly limitHz: number | null;
  readonly limitLower95Hz: number | null;
  readonly limitUpper95Hz: number | null;
}

/** Multiples of the analytic limit that are tried where no rates are given. */
const MULTIPLES = [0.35, 0.5, 0.65, 0.8, 1, 1.25, 1.6];
/** Distance of the places looked at along a component, m, as coverage does. */
const WIRE_STEP_M = 4;
/** Spots nearer than two of their sigmas show as one. */
const MERGE_SIGMAS = 2;
/** What attitude does from frame to frame beyond lens and intensifier, px: as the search allows for. */
const ATTITUDE_PX = 0.3;

export async function injectComponent(
  component: LineComponent,
  line: LineModel,
  flight: SearchedFlight,
  conditions: InjectionConditions,
): Promise<ComponentInjection> {
  const { place, along, coverage } = worstPlace(component, line, flight, conditions);
  const about = {
    componentId: component.id,
    kind: component.kind,
    along,
    passes: coverage.passes,
    framesInView: coverage.framesInView,
    nearestRangeM: coverage.nearestRangeM,
    analyticLimitHz: coverage.limitHz,
  };
  const views = viewsOfPlace(flight, place).filter((view) => view.frames >= PARAMETERS.leastFrames);
  if (coverage.limitHz === null || views.length === 0)
    return { ...about, views: [], points: [], limitHz: null, limitLower95Hz: null, limitUpper95Hz: null };
  const limitHz = coverage.limitHz;
  const rates = conditions.ratesHz.length > 0 ? conditions.ratesHz : MULTIPLES.map((m) => m * limitHz);
  const random = randomFrom(conditions.seed);
  const tryOne = conditions.tryOne ?? tryInjection;
  const points: ComponentInjection['points'][number][] = [];
  for (const rateHz of rates) {
    let found = 0;
    let events = 0;
    const foundByPass = views.map(() => 0);
    for (let trial = 0; trial < conditions.trials; trial++) {
      const source: SyntheticSource = {
        placeEnuM: place,
        photonsPerS: rateHz,
        eventsPerPhotonAt: conditions.eventsPerPhotonAt,
        finderEfficiency: conditions.finderEfficiency,
        bunch: conditions.bunch,
        flicker: conditions.onMains ? halfWave(conditions.mainsHz, random.uniform()) : undefined,
        scatterPx: Math.hypot(flight.blurSigmaPx, ATTITUDE_PX),
        mergePx: MERGE_SIGMAS * conditions.spotSigmaPx,
      };
      let any = false;
      for (const [pass, view] of views.entries()) {
        const tried = await tryOne(flight, view, source, random);
        events += tried.events;
        if (tried.found) foundByPass[pass]++;
        any ||= tried.found;
      }
      if (any) found++;
      // Lets a Ctrl-C in between two trials.
      await new Promise((resolve) => setImmediate(resolve));
      if (conditions.watch.signal?.aborted) throw new Interrupted();
    }
    const [lower95, upper95] = wilsonInterval(found, conditions.trials);
    points.push({
      rateHz,
      trials: conditions.trials,
      found,
      probability: found / conditions.trials,
      lower95,
      upper95,
      meanEvents: events / conditions.trials,
      foundByPass,
    });
  }
  const curve = fitDetectionCurve(points);
  const interval = curve && intervalOfRate(points, curve, 0.95, random.fork(1));
  return {
    ...about,
    views: views.map((view) => ({ frames: view.frames, nearestM: nearestRangeM(flight, view, place) })),
    points,
    limitHz: curve && rateFoundOnCurve(curve, 0.95),
    limitLower95Hz: interval?.lower ?? null,
    limitUpper95Hz: interval?.upper ?? null,
  };
}

function nearestRangeM({ poses }: SearchedFlight, { fromPose, toPose }: ViewOfPlace, place: Vec3): number {
  let nearest = Number.POSITIVE_INFINITY;
  for (let p = fromPose; p <= toPose; p++) {
    const [x, y, z] = poses.originEnuM.subarray(3 * p, 3 * p + 3);
    nearest = Math.min(nearest, distance([x, y, z], place));
  }
  return nearest;
}

/** The place along a component whose analytic limit is the weakest, as coverage states it; unseen places come last. */
function worstPlace(
  component: LineComponent,
  line: LineModel,
  flight: SearchedFlight,
  conditions: InjectionConditions,
): { place: Vec3; along: number; coverage: ComponentCoverage } {
  const length = axisLengthM(component.axisEnuM);
  const pieces = length > 0.5 ? Math.max(2, Math.ceil(length / WIRE_STEP_M)) : 0;
  const everywhere = pieces === 0 ? [0.5] : Array.from({ length: pieces + 1 }, (_, i) => i / pieces);
  const shares = conditions.along === null ? everywhere : [conditions.along];
  const { lens, poses, corridor, threshold, blurSigmaPx } = flight;
  const eventsNeeded = eventsByFramesInView({
    threshold,
    backgroundPerPx: conditions.backgroundPerFrame / (lens.widthPx * lens.heightPx),
    sigmaPx: blurSigmaPx,
    exposureS: conditions.exposureS,
    frameRateHz: conditions.frameRateHz,
    crossingPx: lens.widthPx,
    finderEfficiency: conditions.finderEfficiency,
    bunch: conditions.bunch,
    mergePx: MERGE_SIGMAS * conditions.spotSigmaPx,
    mainsHz: conditions.onMains ? conditions.mainsHz : undefined,
  });
  let worst: { place: Vec3; along: number; coverage: ComponentCoverage } | null = null;
  for (const along of shares) {
    const place = pointOnAxis(component.axisEnuM, along);
    const [coverage] = coverComponents(
      { ...line, components: [{ ...component, axisEnuM: [place, place] }] },
      poses,
      lens,
      {
        eventsPerPhotonAt: conditions.eventsPerPhotonAt,
        eventsNeeded,
        leastFrames: PARAMETERS.leastFrames,
        passGapS: GAP_FRAMES / conditions.frameRateHz,
        nearestM: corridor.nearestM,
        farthestM: corridor.farthestM,
      },
    );
    if (coverage.limitHz === null) {
      worst ??= { place, along, coverage };
      continue;
    }
    if (!worst || worst.coverage.limitHz === null || coverage.limitHz > worst.coverage.limitHz)
      worst = { place, along, coverage };
  }
  if (!worst) throw new RangeError(`injectComponent: '${component.id}' has no places`);
  return worst;
}
