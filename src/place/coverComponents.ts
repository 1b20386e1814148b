import type { Lens } from '../camera/Lens.ts';
import { projectPoint } from '../camera/projectPoint.ts';
import type { LineComponent, LineModel } from '../line/LineModel.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { FramePoses } from '../sighting/EventRays.ts';
import { pointInUvM } from '../sighting/framePoses.ts';
import { axisLengthM, pointOnAxis } from './axis.ts';
import { type PassSensitivity, rateFoundWith } from './detectionLimit.ts';
import { lightPast, type Obstacles, obstaclesBut, obstaclesOf } from './obstacles.ts';

/** What was seen of one component, without saying yet whether something was found on it. */
export interface ComponentCoverage {
  readonly componentId: string;
  /** 'clear' where every part of it was seen well enough for a limit; it becomes a finding where a discharge sits on it. */
  readonly state: 'clear' | 'not seen';
  /** Frames that had its worst seen part in view. */
  readonly framesInView: number;
  readonly nearestRangeM: number | null;
  /** Longest range of a frame that had its worst seen part in view. */
  readonly farthestRangeM: number | null;
  /** Photons per second at the source that would have been found with 95 %, wherever on the component; null: not seen. */
  readonly limitHz: number | null;
  /** Share of its length that was in view in enough frames for a limit. */
  readonly coveredShare: number;
  /** Passes that saw its worst seen part. */
  readonly passes: number;
  /** Directions from which it was seen, degrees from north, one a pass, at the nearest approach. */
  readonly viewAzimuthsDeg: readonly number[];
  /** The same above the level: positive where the camera looked up. */
  readonly viewElevationsDeg: readonly number[];
  /** Exposure that its worst seen part had in all, seconds. */
  readonly exposureS: number;
  /** Smear of its worst seen part during one exposure at the nearest approach, px, the sharpest pass; null: not in view. */
  readonly smearPx: number | null;
  /** Share of the light of its worst seen part that other hardware kept from the camera, over the frames in view. */
  readonly hiddenShare: number;
  /** What kept most of it: a component or a structure. */
  readonly hiddenBy: string | null;
}

export interface CoverageOptions {
  /** Events counted by the camera for one photon sent into 4 pi at a range, in one second: aperture, efficiency, air. */
  readonly eventsPerPhotonAt: (rangeM: number) => number;
  /** Response to a point of light at a pixel, 1 in the mean over the picture. Default: 1 everywhere. */
  readonly responseAt?: (uPx: number, vPx: number) => number;
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
  /** In the picture, whether or not something stands before it. */
  frames: number;
  /** Of those, as many as let most of the light through. */
  openFrames: number;
  eventsPerHz: number;
  nearestM: number;
  farthestM: number;
  azimuthDeg: number;
  elevationDeg: number;
  smearPx: number;
  exposureS: number;
  /** Frames lost behind each thing, as frames times the share of light kept away. */
  readonly lostTo: Map<string, number>;
}

/**
 * Proof of coverage: for each component how often and from how far it was seen, and the weakest steady source that the flight
 * would have found at the worst seen place on it. Without a limit for every place a component is 'not seen', never clear.
 * The limit is analytic: counting statistics of passes that are searched one by one, each source found when one pass
 * finds it. Hardware, wires and towers between a place and the camera weaken its light frame by frame (obstacles.ts); a place
 * behind others for so long that too few open frames are left counts as not seen.
 */
export function coverComponents(
  line: LineModel,
  poses: FramePoses,
  lens: Lens,
  options: CoverageOptions,
): ComponentCoverage[] {
  const obstacles = obstaclesOf(line);
  return line.components.map((component) => {
    const places = placesOf(component, options.wireStepM ?? 4);
    const seen = places.map((place) => coverPlace(place, poses, lens, obstacles, options));
    const limits = seen.map((views) => limitOf(views, options));
    const covered = limits.filter((limit) => limit !== null);
    let worst = 0;
    limits.forEach((limit, i) => {
      if ((limit ?? Number.POSITIVE_INFINITY) > (limits[worst] ?? Number.POSITIVE_INFINITY)) worst = i;
    });
    const clear = covered.length === places.length;
    const allViews = seen.flat();
    const frames = seen[worst].reduce((sum, view) => sum + view.frames, 0);
    const lost = lostOver(seen[worst]);
    return {
      componentId: component.id,
      state: clear ? 'clear' : 'not seen',
      framesInView: frames,
      nearestRangeM: allViews.length > 0 ? Math.min(...allViews.map((view) => view.nearestM)) : null,
      farthestRangeM: seen[worst].length > 0 ? Math.max(...seen[worst].map((view) => view.farthestM)) : null,
      limitHz: clear ? limits[worst] : null,
      coveredShare: covered.length / places.length,
      passes: seen[worst].length,
      viewAzimuthsDeg: seen[worst].map((view) => view.azimuthDeg),
      viewElevationsDeg: seen[worst].map((view) => view.elevationDeg),
      exposureS: seen[worst].reduce((sum, view) => sum + view.exposureS, 0),
      smearPx: seen[worst].length > 0 ? Math.min(...seen[worst].map((view) => view.smearPx)) : null,
      hiddenShare: frames > 0 ? lost.frames / frames : 0,
      hiddenBy: lost.mostBy,
    };
  });
}

function lostOver(views: readonly View[]): { frames: number; mostBy: string | null } {
  const byThing = new Map<string, number>();
  for (const { lostTo } of views) for (const [id, n] of lostTo) byThing.set(id, (byThing.get(id) ?? 0) + n);
  const [most] = [...byThing].sort(([a, m], [b, n]) => n - m || (a < b ? -1 : 1));
  return { frames: [...byThing.values()].reduce((sum, n) => sum + n, 0), mostBy: most?.[0] ?? null };
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
    .filter((view) => view.openFrames >= options.leastFrames && view.eventsPerHz > 0)
    .map((view) => ({ eventsPerHz: view.eventsPerHz, eventsNeeded: options.eventsNeeded(view.frames) }));
  return passes.length > 0 ? rateFoundWith(0.95, passes) : null;
}

function coverPlace(
  place: Vec3,
  poses: FramePoses,
  lens: Lens,
  obstacles: Obstacles,
  options: CoverageOptions,
): View[] {
  const counts = obstaclesBut(obstacles, place);
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
      views.push({
        frames: 0,
        openFrames: 0,
        eventsPerHz: 0,
        nearestM: Number.POSITIVE_INFINITY,
        farthestM: 0,
        azimuthDeg: 0,
        elevationDeg: 0,
        smearPx: 0,
        exposureS: 0,
        lostTo: new Map(),
      });
    lastNs = poses.tNs[row];
    const view = views[views.length - 1];
    const rangeM = Math.sqrt(range2);
    const stands = Math.min(step, poses.count - row);
    const camera: Vec3 = [poses.originEnuM[3 * row], poses.originEnuM[3 * row + 1], poses.originEnuM[3 * row + 2]];
    const { share, mostBy } = lightPast(obstacles, counts, place, camera);
    const exposureS = poses.exposureNs[row] * 1e-9;
    view.frames += stands;
    if (share > 0.5) view.openFrames += stands;
    if (mostBy !== null) view.lostTo.set(mostBy, (view.lostTo.get(mostBy) ?? 0) + stands * (1 - share));
    const response = options.responseAt?.(px[0], px[1]) ?? 1;
    view.eventsPerHz += stands * exposureS * share * response * options.eventsPerPhotonAt(rangeM);
    view.exposureS += stands * exposureS;
    view.farthestM = Math.max(view.farthestM, rangeM);
    if (rangeM < view.nearestM) {
      view.nearestM = rangeM;
      view.azimuthDeg = (Math.atan2(dx, dy) * 180) / Math.PI;
      if (view.azimuthDeg < 0) view.azimuthDeg += 360;
      view.elevationDeg = (Math.asin(dz / rangeM) * 180) / Math.PI;
      view.smearPx = smearPx(place, poses, row, lens);
    }
  }
  return views;
}

/** Way of a place over the image during one exposure, from the frames beside it; 0 where it has none in the picture. */
function smearPx(place: Vec3, poses: FramePoses, row: number, lens: Lens): number {
  const [before, after] = [Math.max(0, row - 1), Math.min(poses.count - 1, row + 1)];
  const a = projectPoint(pointInUvM(poses, before, place), lens);
  const b = projectPoint(pointInUvM(poses, after, place), lens);
  const stepNs = poses.tNs[after] - poses.tNs[before];
  return a && b && stepNs > 0 ? (Math.hypot(b[0] - a[0], b[1] - a[1]) * poses.exposureNs[row]) / stepNs : 0;
}

/** Hidden for more than this share of its frames, a component that is not clear is to be seen from elsewhere. */
const MOSTLY_HIDDEN = 0.3;

/** For a list of what to fly again: components not seen, and those whose limit is above what was asked for. */
export function toFlyAgain(
  coverage: readonly ComponentCoverage[],
  wantedHz: number,
): { componentId: string; because: string }[] {
  return coverage.flatMap((c) => {
    if (c.state === 'not seen') {
      if (c.hiddenBy !== null && c.hiddenShare > MOSTLY_HIDDEN)
        return [{ componentId: c.componentId, because: `hidden by ${c.hiddenBy}: from another side or height` }];
      const share = Math.round(c.coveredShare * 100);
      return [{ componentId: c.componentId, because: share === 0 ? 'not seen' : `only ${share} % of it was seen` }];
    }
    return (c.limitHz ?? Number.POSITIVE_INFINITY) > wantedHz
      ? [{ componentId: c.componentId, because: 'seen, but only a stronger discharge would have been found' }]
      : [];
  });
}
