import type { LineComponent, LineModel } from '../line/LineModel.ts';
import { dot, norm, scale, subtract, type Vec3 } from '../maths/vec3.ts';
import { KIND_PRIORS } from './attributionPriors.ts';
import { axisLengthM, pointOnAxis } from './axis.ts';

/** How far along a view the source is, from what of the line lies in that direction. */
export interface DepthPrior {
  readonly depthM: number;
  readonly sigmaM: number;
}

/**
 * The depth at which a view meets the line: mean and spread over everything of the line that lies within the view's own
 * error, weighted by how well it fits and how likely it is to discharge. Components at several depths in one view give a
 * long prior that covers them all, not a choice among them.
 * @returns null where nothing of the line is within four sigma of the view
 */
export function depthFromLine(
  line: LineModel,
  originEnuM: Vec3,
  directionEnu: Vec3,
  sigmaRad: number,
  nearestM = 3,
  farthestM = 300,
): DepthPrior | null {
  let total = 0;
  let first = 0;
  let second = 0;
  for (const component of line.components) {
    for (const sample of samples(component)) {
      const v = subtract(sample.atEnuM, originEnuM);
      const depth = dot(v, directionEnu);
      if (depth < nearestM || depth > farthestM) continue;
      const across = norm(subtract(v, scale(directionEnu, depth)));
      const sigma = Math.sqrt(
        (sigmaRad * depth) ** 2 + component.sigmaM ** 2 + component.radiusM ** 2 / 2 + sample.halfM ** 2 / 3,
      );
      const z = across / sigma;
      if (z > 4) continue;
      const weight = (sample.expected * Math.exp((-z * z) / 2)) / (sigma * sigma);
      total += weight;
      first += weight * depth;
      second += weight * (depth * depth + component.sigmaM ** 2 + component.radiusM ** 2 / 2 + sample.halfM ** 2 / 3);
    }
  }
  if (!(total > 0)) return null;
  const depthM = first / total;
  return { depthM, sigmaM: Math.sqrt(Math.max(second / total - depthM * depthM, 1e-4)) };
}

/** Points along a component's axis, at most 0.5 m apart, with the discharges expected of their piece. */
function* samples(component: LineComponent): Generator<{ atEnuM: Vec3; expected: number; halfM: number }> {
  const prior = KIND_PRIORS[component.kind];
  const length = axisLengthM(component.axisEnuM);
  const pieces = Math.max(1, Math.ceil(length / 0.5));
  const expected = (prior.per === 'metre' ? prior.expected * length : prior.expected) / pieces;
  for (let i = 0; i < pieces; i++)
    yield { atEnuM: pointOnAxis(component.axisEnuM, (i + 0.5) / pieces), expected, halfM: length / pieces / 2 };
}
