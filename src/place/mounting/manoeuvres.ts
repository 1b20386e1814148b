import { degFromRad } from '../../maths/angle.ts';
import { distance, dot, norm, type Vec3 } from '../../maths/vec3.ts';
import { interpolatePoses } from '../../trajectory/interpolatePose.ts';
import { MOUNTING_PARAMETERS } from './MountingParameters.ts';
import type { LightPoint, PointView } from './PointView.ts';
import type { Limit } from './separability.ts';

/** What was flown, as far as it helps to tell the parameters of a mounting apart. */
export interface FlownManoeuvres {
  readonly passes: number;
  /** From the first view to the last. */
  readonly spanS: number;
  /** Largest angle between two directions of flight, degrees. */
  readonly headingSpreadDeg: number;
  readonly nearestM: number;
  readonly farthestM: number;
  readonly slowestMps: number;
  readonly fastestMps: number;
  /** Root mean square turn of the body while it saw a light, degrees a second. */
  readonly turnRateDegps: number;
  /** Longest correlation time of the trajectory's errors. */
  readonly correlationS: number;
  readonly surveyedPoints: number;
}

export function flownManoeuvres(views: readonly PointView[], points: readonly LightPoint[]): FlownManoeuvres {
  const velocities: Vec3[] = [];
  let nearestM = Number.POSITIVE_INFINITY;
  let farthestM = 0;
  let turn2 = 0;
  let rays = 0;
  for (const view of views) {
    const poses = interpolatePoses(
      view.track,
      view.rays.map((ray) => ray.tNs),
    );
    for (let i = 0; i < poses.count; i++) {
      if (poses.refusal[i] !== 0) continue;
      const of = (data: Float64Array): Vec3 => [data[3 * i], data[3 * i + 1], data[3 * i + 2]];
      velocities.push(of(poses.velocityEnuMps));
      const rangeM = distance(of(poses.positionEnuM), points[view.point].positionEnuM);
      nearestM = Math.min(nearestM, rangeM);
      farthestM = Math.max(farthestM, rangeM);
      turn2 += norm(of(poses.angularRateEnuRadps)) ** 2;
      rays++;
    }
  }
  const speeds = velocities.map(norm);
  const times = views.map((view) => view.tNs);
  return {
    passes: new Set(views.map((view) => view.pass)).size,
    spanS: (Math.max(...times) - Math.min(...times)) * 1e-9,
    headingSpreadDeg: headingSpreadDeg(velocities.filter((v) => norm(v) > 1)),
    nearestM,
    farthestM,
    slowestMps: speeds.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY),
    fastestMps: speeds.reduce((a, b) => Math.max(a, b), 0),
    turnRateDegps: degFromRad(Math.sqrt(turn2 / Math.max(rays, 1))),
    correlationS: Math.max(
      ...views.map(({ errors }) => Math.max(errors.positionCorrelationS, errors.attitudeCorrelationS)),
    ),
    surveyedPoints: points.filter((point) => point.surveyedSigmaM !== null).length,
  };
}

/** Against the first direction: on a survey, the others are along it or against it. */
function headingSpreadDeg(velocities: readonly Vec3[]): number {
  let least = 1;
  for (const v of velocities) least = Math.min(least, dot(v, velocities[0]) / (norm(v) * norm(velocities[0])));
  return degFromRad(Math.acos(Math.max(-1, least)));
}

type Kind = 'boresight' | 'lever arm' | 'time offset';
const kindOf = (name: string): Kind =>
  name.startsWith('boresight') ? 'boresight' : name.startsWith('lever') ? 'lever arm' : 'time offset';

/** Why `by` limits a parameter, and what to fly against it, with what was flown so far. */
export function advise(flown: FlownManoeuvres, parameter: number, by: Limit): string {
  const kind = kindOf(MOUNTING_PARAMETERS[parameter]);
  const ranges = `${flown.nearestM.toFixed(0)} to ${flown.farthestM.toFixed(0)} m so far`;
  const speeds = `${flown.slowestMps.toFixed(0)} to ${flown.fastestMps.toFixed(0)} m/s so far`;
  const turns = `${flown.turnRateDegps.toFixed(1)} degrees a second so far, root mean square`;
  const passes = `${flown.passes} within ${flown.spanS.toFixed(0)} s so far`;
  const opposite =
    flown.headingSpreadDeg < 120
      ? 'Fly the same lights on opposite headings too'
      : 'Fly more passes on opposite headings';
  switch (by) {
    case 'photon noise':
      return `The rays themselves are too few or too coarse: fly slower, nearer or more often, or use a brighter lamp.`;
    case 'satellite position':
      if (kind === 'boresight')
        return `A position error looks like a turn of that error over the range: fly some passes farther away (${ranges}) and more of them (${passes}).`;
      if (kind === 'lever arm')
        return `On one heading a position error looks like a lever arm: ${opposite.toLowerCase()}, more than ${flown.correlationS.toFixed(0)} s apart (${passes}).`;
      return `A position error along the track looks like a late stamp: roll and yaw to and fro while a light is in view (${turns}); a turn shows the time without the position.`;
    case 'attitude of the trajectory':
      if (kind === 'boresight')
        return `Within a pass an error of roll, pitch or heading is the same as a boresight: only more passes average it, more than ${flown.correlationS.toFixed(0)} s apart (${passes}), or a better attitude solution.`;
      if (kind === 'lever arm')
        return `An attitude error looks like a lever arm of that angle times the range: fly nearer (${ranges}).`;
      return `Slow attitude errors pass for late stamps: roll and yaw to and fro more quickly while a light is in view (${turns}).`;
    case 'places of the lights':
      return flown.surveyedPoints > 0
        ? `The coordinates of the lamps are not good enough: survey them better, or use more of them.`
        : `Where the lights are is unknown and is found from the same rays: ${opposite.toLowerCase()} and at several heights and ranges (${ranges}), or use surveyed lamps.`;
    case 'lens':
      return `The lens of the registration is no surer than this, and its principal point does what a boresight does: a better bench run helps. Used together with that registration, the sum is better known than this part.`;
    default: {
      const other = kindOf(by);
      const pair = [kind, other].sort().join(' and ');
      if (pair === 'boresight and lever arm')
        return `It is hardly told apart from the ${by}: at one range a turn and a shift look alike; fly the same lights at very different ranges (${ranges}).`;
      if (pair === 'lever arm and time offset')
        return `It is hardly told apart from the ${by}: at one speed a late stamp is a shift along the body, on every heading; change the speed (${speeds}) and roll and yaw to and fro (${turns}).`;
      if (pair === 'boresight and time offset')
        return `It is hardly told apart from the ${by}: at one speed and range a late stamp is a turn; change speed (${speeds}) and range (${ranges}), and roll and yaw to and fro (${turns}).`;
      return `It is hardly told apart from the ${by}: let the lights cross the whole image, along and across.`;
    }
  }
}
