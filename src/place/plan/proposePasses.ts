import { componentsNear, indexLine, type LineIndex } from '../../line/LineIndex.ts';
import type { LineModel } from '../../line/LineModel.ts';
import { DEG_PER_RAD, radFromDeg, wrapDeg180, wrapDeg360 } from '../../maths/angle.ts';
import { add, distance, scale, subtract, type Vec3 } from '../../maths/vec3.ts';
import { type CameraLook, STEEPEST_DEG } from './cameraLook.ts';
import { type Course, lineCourses } from './lineCourse.ts';

export interface Waypoint {
  /** Of the body, in the line's local frame. */
  readonly positionEnuM: Vec3;
  /** That the camera's axis stands across the line, true. */
  readonly headingDeg: number;
  /** The tower abeam; null in a span and at the ends. */
  readonly structureId: string | null;
}

export interface ProposedPass {
  readonly name: string;
  readonly waypoints: readonly Waypoint[];
  readonly lengthM: number;
  /** Nearest approach to any conductor, hardware or tower of the model, and to what; sampled every 2 m. */
  readonly clearanceM: number;
  readonly nearestId: string;
}

export type PassProposal =
  | { readonly kind: 'proposed'; readonly passes: readonly ProposedPass[]; readonly levels: number }
  | { readonly kind: 'refused'; readonly because: string };

export interface PassWishes {
  /** To the nearest conductor, hardware or tower, kept everywhere. */
  readonly standoffM: number;
  /** Height on the line that the uv image covers at the standoff. */
  readonly swathUpM: number;
  /** Flown before the first tower and beyond the last, so that the ends cross the whole image. */
  readonly leadM: number;
  readonly look: CameraLook;
}

/** Share of the image's height that a level uses: the rest is for gusts and for how well a pilot holds a line. */
const USED_SHARE = 0.8;
/** Neighbouring samples of a pass, metres, while it is moved and when it is proved. */
const COARSE_M = 6;
const FINE_M = 2;
const MOST_ROUNDS = 40;
/** A pass is moved until it has this much more than was asked for, so that it also holds between the samples. */
const SPARE_M = 0.05;

/**
 * Passes along both sides of a line: straight from tower to tower (and mid-span to mid-span), at heights that follow the
 * hardware, as near as the standoff to the nearest conductor allows and nowhere nearer. Where the image is not high
 * enough for all of the hardware, several levels are flown. The camera looks at the line: a pass runs in the direction in
 * which its side of the aircraft does, and each waypoint has the heading for it.
 * It knows only the line: no terrain, trees, crossings or other lines.
 */
export function proposePasses(line: LineModel, wishes: PassWishes): PassProposal {
  if (Math.abs(wishes.look.depressionDeg) > STEEPEST_DEG)
    return { kind: 'refused', because: 'the camera looks down too steeply for passes beside the line' };
  const courses = lineCourses(line).filter((course) => course.length >= 2);
  if (courses.length === 0) return { kind: 'refused', because: 'the line has no two towers to fly between' };
  const tallestM = Math.max(...courses.flat().map((s) => s.highestUpM - s.lowestUpM));
  const levels = Math.max(1, Math.ceil(tallestM / (USED_SHARE * wishes.swathUpM)));
  const obstacles = { index: indexLine(line), line };
  const passes: ProposedPass[] = [];
  courses.forEach((course, c) => {
    for (const side of ['left', 'right'] as const)
      for (let level = 0; level < levels; level++) {
        const pass = passBeside(course, side, (level + 0.5) / levels, obstacles, wishes);
        if (typeof pass === 'string') continue;
        const name = `${courses.length > 1 ? `section ${c + 1}, ` : ''}${side}${levels > 1 ? `, level ${level + 1}` : ''}`;
        passes.push({ name, ...pass });
      }
  });
  return passes.length > 0
    ? { kind: 'proposed', passes, levels }
    : { kind: 'refused', because: 'no pass keeps the standoff everywhere' };
}

interface Obstacles {
  readonly index: LineIndex;
  readonly line: LineModel;
}

function passBeside(
  course: Course,
  side: 'left' | 'right',
  levelShare: number,
  obstacles: Obstacles,
  wishes: PassWishes,
): Omit<ProposedPass, 'name'> | 'no way' {
  const { standoffM, look } = wishes;
  const depression = radFromDeg(look.depressionDeg);
  const posts = offsetPosts(course, side, wishes.leadM);
  const aimM = posts.map((post) => post.lowestUpM + levelShare * (post.highestUpM - post.lowestUpM));
  const outM = posts.map(() => standoffM * Math.cos(depression));
  const placeOf = (i: number): Vec3 => [
    posts[i].eastM + posts[i].mitreEast * outM[i],
    posts[i].northM + posts[i].mitreNorth * outM[i],
    // Along the camera's axis: farther out is also higher, where it looks down.
    aimM[i] + outM[i] * Math.tan(depression),
  ];
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const lacking = new Float64Array(posts.length);
    for (let i = 0; i + 1 < posts.length; i++)
      for (const at of samplesBetween(placeOf(i), placeOf(i + 1), COARSE_M)) {
        const short = standoffM + SPARE_M - clearance(at, obstacles, standoffM + SPARE_M).distanceM;
        if (short <= 0) continue;
        lacking[i] = Math.max(lacking[i], short);
        lacking[i + 1] = Math.max(lacking[i + 1], short);
      }
    if (lacking.every((short) => short === 0)) break;
    lacking.forEach((short, i) => {
      outM[i] += short * 1.05;
    });
  }
  const places = posts.map((_, i) => placeOf(i));
  const proof = proveClearance(places, obstacles, standoffM);
  if (proof.clearanceM < standoffM) return 'no way';

  const waypoints = places.map((positionEnuM, i): Waypoint => {
    // Towards the line, across it.
    const bearingDeg = Math.atan2(-posts[i].acrossEast, -posts[i].acrossNorth) * DEG_PER_RAD;
    return {
      positionEnuM,
      headingDeg: wrapDeg360(bearingDeg - look.azimuthDeg),
      structureId: posts[i].structureId,
    };
  });
  const courseDeg = Math.atan2(places[1][0] - places[0][0], places[1][1] - places[0][1]) * DEG_PER_RAD;
  const backwards = Math.abs(wrapDeg180(waypoints[0].headingDeg - courseDeg)) > 90 + 1e-6;
  return {
    waypoints: backwards ? waypoints.reverse() : waypoints,
    lengthM: places.slice(1).reduce((sum, place, i) => sum + distance(place, places[i]), 0),
    ...proof,
  };
}

/** A station with the direction in which its waypoint is moved away from the line. */
interface Post {
  readonly structureId: string | null;
  readonly eastM: number;
  readonly northM: number;
  readonly lowestUpM: number;
  readonly highestUpM: number;
  /** Unit vector away from the line. */
  readonly acrossEast: number;
  readonly acrossNorth: number;
  /** The same, longer at a bend, so that both spans keep the distance. */
  readonly mitreEast: number;
  readonly mitreNorth: number;
}

function offsetPosts(course: Course, side: 'left' | 'right', leadM: number): Post[] {
  const sign = side === 'left' ? 1 : -1;
  const headings = course.slice(1).map((s, i) => Math.atan2(s.northM - course[i].northM, s.eastM - course[i].eastM));
  const posts = course.map((station, i): Post => {
    const before = headings[Math.max(0, i - 1)];
    const after = headings[Math.min(headings.length - 1, i)];
    const half = Math.atan2(Math.sin(after - before), Math.cos(after - before)) / 2;
    const away = before + half + (sign * Math.PI) / 2;
    const mitre = 1 / Math.cos(half);
    return {
      ...station,
      acrossEast: Math.cos(away),
      acrossNorth: Math.sin(away),
      mitreEast: Math.cos(away) * mitre,
      mitreNorth: Math.sin(away) * mitre,
    };
  });
  const beyond = (post: Post, heading: number, way: number): Post => ({
    ...post,
    structureId: null,
    eastM: post.eastM + way * leadM * Math.cos(heading),
    northM: post.northM + way * leadM * Math.sin(heading),
  });
  return [
    beyond(posts[0], headings[0], -1),
    ...posts,
    beyond(posts[posts.length - 1], headings[headings.length - 1], 1),
  ];
}

function samplesBetween(from: Vec3, to: Vec3, stepM: number): Vec3[] {
  const pieces = Math.max(1, Math.ceil(distance(from, to) / stepM));
  return Array.from({ length: pieces + 1 }, (_, k) => add(from, scale(subtract(to, from), k / pieces)));
}

/** Distance to the nearest of the line within `reachM`, and what it is; infinite where nothing is so near. */
function clearance(at: Vec3, { index, line }: Obstacles, reachM: number): { distanceM: number; id: string } {
  const near = componentsNear(index, at, reachM)[0];
  let best = near
    ? { distanceM: near.distanceM, id: near.component.id }
    : { distanceM: Number.POSITIVE_INFINITY, id: '' };
  for (const { id, footEnuM, heightM } of line.structures) {
    const levelM = Math.hypot(at[0] - footEnuM[0], at[1] - footEnuM[1]);
    if (levelM > reachM) continue;
    const aboveM = Math.max(0, at[2] - footEnuM[2] - heightM, footEnuM[2] - at[2]);
    const distanceM = Math.hypot(levelM, aboveM);
    if (distanceM < best.distanceM) best = { distanceM, id };
  }
  return best;
}

function proveClearance(
  places: readonly Vec3[],
  obstacles: Obstacles,
  standoffM: number,
): { clearanceM: number; nearestId: string } {
  let clearanceM = Number.POSITIVE_INFINITY;
  let nearestId = '';
  for (let i = 0; i + 1 < places.length; i++)
    for (const at of samplesBetween(places[i], places[i + 1], FINE_M)) {
      const { distanceM, id } = clearance(at, obstacles, 1.5 * standoffM);
      if (distanceM < clearanceM) {
        clearanceM = distanceM;
        nearestId = id;
      }
    }
  return { clearanceM, nearestId };
}
