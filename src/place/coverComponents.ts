import type { Lens } from '../camera/Lens.ts';
import { projectPoint } from '../camera/projectPoint.ts';
import type { LineComponent, LineModel } from '../line/LineModel.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { FramePoses } from '../sighting/EventRays.ts';
import { axisLengthM, pointOnAxis } from './axis.ts';
import { type PassSensitivity, rateFoundWith } from './detectionLimit.ts';

/** What was seen of one component, without saying yet whether something was found on it. */
export interface ComponentCoverage {
  readonly componentId: string;
  /** 'clear' where every part of it was seen well enough for a limit; it becomes a finding where a discharge sits on it. */
  readonly state: 'clear' | 'not seen';
  /** Frames that had its worst seen part in view. */
  readonly framesInView: number;
  readonly nearestRangeM: number | null;
  /** Photons per second at the source that would have been found with 95 %, wherever on the component; null: not seen. */
  readonly limitHz: number | null;
  /** Share of its length that was in view in enough frames for a limit. */
  readonly coveredShare: number;
  /** Passes that saw its worst seen part. */
  readonly passes: number;
  /** Directions from which it was seen, degrees from north, one a pass, at the nearest approach. */
  readonly viewAzimuthsDeg: readonly number[];
}

export interface CoverageOptions {
  /** Events counted by the camera for one photon sent into 4 pi at a range, in one second: aperture, efficiency, air. */
  readonly eventsPerPhotonAt: (rangeM: number) => number;
  /** Mean events in a pass that are found with 95 % at the flight's false-alarm rate, given the frames in view. */
  readonly eventsNeeded: (framesInView: number) => number;
  /** Fewest frames of a pass that the detection works on. */
  readonly leastFrames: number;
  readonly nearestM: number;
  readonly farthestM: number;
  /** Pixels at the image border that do not count as seen. */
  readonly borderPx?: number;
  /** Every n-th frame is looked at and stands for n. Default 5: a tenth of a second at 50 frames a second. */
  readonly frameStep?: number;
  /** Out of view for longer than this begins another pass, seconds. Default 5. */
  readonly passGapS?: number;
  /** Distance of the places looked at along a component, metres. Default 4 for wires; hardware has both ends and the middle. */
  readonly wireStepM?: number;
}

/** Runs of frames that see one place. */
interface View {
  frames: number;
  eventsPerHz: number;
  nearestM: number;
  azimuthDeg: number;
}

/**
 * Proof of coverage: for each component how often and from how far it was seen, and the weakest steady source that the flight
 * would have found at the worst seen place on it. Without a limit for every place a component is 'not seen', never clear.
 * The limit is analytic: counting statistics of passes that are searched one by one, each source found when one pass
 * finds it. It does not know of hardware that hides other hardware.
 */
export function coverComponents(
  line: LineModel,
  poses: FramePoses,
  lens: Lens,
  options: CoverageOptions,
): ComponentCoverage[] {
  return line.components.map((component) => {
    const places = placesOf(component, options.wireStepM ?? 4);
    const seen = places.map((place) => coverPlace(place, poses, lens, options));
    const limits = seen.map((views) => limitOf(views, options));
    const covered = limits.filter((limit) => limit !== null);
    let worst = 0;
    limits.forEach((limit, i) => {
      if ((limit ?? Number.POSITIVE_INFINITY) > (limits[worst] ?? Number.POSITIVE_INFINITY)) worst = i;
    });
    const clear = covered.length === places.length;
    const allViews = seen.flat();
    return {
      componentId: component.id,
      state: clear ? 'clear' : 'not seen',
      framesInView: seen[worst].reduce((sum, view) => sum + view.frames, 0),
      nearestRangeM: allViews.length > 0 ? Math.min(...allViews.map((view) => view.nearestM)) : null,
      limitHz: clear ? limits[worst] : null,
      coveredShare: covered.length / places.length,
      passes: seen[worst].length,
      viewAzimuthsDeg: seen[worst].map((view) => view.azimuthDeg),
    };
  });
}

function placesOf(component: LineComponent, wireStepM: number): Vec3[] {
  const length = axisLengthM(component.axisEnuM);
  const pieces = Math.max(2, Math.ceil(length / wireStepM));
  return length > 0.5
    ? Array.from({ length: pieces + 1 }, (_, i) => pointOnAxis(component.axisEnuM, i / pieces))
    : [pointOnAxis(component.axisEnuM, 0.5)];
}

function limitOf(views: readonly View[], options: CoverageOptions): number | null {
  const passes: PassSensitivity[] = views
    .filter((view) => view.frames >= options.leastFrames && view.eventsPerHz > 0)
    .map((view) => ({ eventsPerHz: view.eventsPerHz, eventsNeeded: options.eventsNeeded(view.frames) }));
  return passes.length > 0 ? rateFoundWith(0.95, passes) : null;
}

function coverPlace(place: Vec3, poses: FramePoses, lens: Lens, options: CoverageOptions): View[] {
  const step = options.frameStep ?? 5;
  const gapNs = (options.passGapS ?? 5) * 1e9;
  const border = options.borderPx ?? 8;
  const views: View[] = [];
  let lastNs = Number.NEGATIVE_INFINITY;
  for (let row = 0; row < poses.count; row += step) {
    const dx = place[0] - poses.originEnuM[3 * row];
    const dy = place[1] - poses.originEnuM[3 * row + 1];
    const dz = place[2] - poses.originEnuM[3 * row + 2];
    const range2 = dx * dx + dy * dy + dz * dz;
    if (range2 > options.farthestM ** 2 || range2 < options.nearestM ** 2) continue;
    const m = poses.uvFromEnu;
    const r = 9 * row;
    const z = m[r + 6] * dx + m[r + 7] * dy + m[r + 8] * dz;
    if (!(z > 0)) continue;
    const x = m[r] * dx + m[r + 1] * dy + m[r + 2] * dz;
    const y = m[r + 3] * dx + m[r + 4] * dy + m[r + 5] * dz;
    // Far outside any image whatever the distortion: saves the projection.
    if (Math.abs(x) * lens.fxPx > z * lens.widthPx * 2 || Math.abs(y) * lens.fyPx > z * lens.heightPx * 2) continue;
    const px = projectPoint([x, y, z], lens);
    if (!px) continue;
    const inside =
      px[0] >= border - 0.5 &&
      px[1] >= border - 0.5 &&
      px[0] <= lens.widthPx - 0.5 - border &&
      px[1] <= lens.heightPx - 0.5 - border;
    if (!inside) continue;
    if (poses.tNs[row] - lastNs > gapNs)
      views.push({ frames: 0, eventsPerHz: 0, nearestM: Number.POSITIVE_INFINITY, azimuthDeg: 0 });
    lastNs = poses.tNs[row];
    const view = views[views.length - 1];
    const rangeM = Math.sqrt(range2);
    const stands = Math.min(step, poses.count - row);
    view.frames += stands;
    view.eventsPerHz += stands * poses.exposureNs[row] * 1e-9 * options.eventsPerPhotonAt(rangeM);
    if (rangeM < view.nearestM) {
      view.nearestM = rangeM;
      view.azimuthDeg = (Math.atan2(dx, dy) * 180) / Math.PI;
      if (view.azimuthDeg < 0) view.azimuthDeg += 360;
    }
  }
  return views;
}

/** For a list of what to fly again: components not seen, and those whose limit is above what was asked for. */
export function toFlyAgain(
  coverage: readonly ComponentCoverage[],
  wantedHz: number,
): { componentId: string; because: string }[] {
  return coverage.flatMap((c) => {
    if (c.state === 'not seen') {
      const share = Math.round(c.coveredShare * 100);
      return [{ componentId: c.componentId, because: share === 0 ? 'not seen' : `only ${share} % of it was seen` }];
    }
    return (c.limitHz ?? Number.POSITIVE_INFINITY) > wantedHz
      ? [{ componentId: c.componentId, because: 'seen, but only a stronger discharge would have been found' }]
      : [];
  });
}
