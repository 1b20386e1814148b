import { correctionAsRegistered } from './asRegistered.ts';
import { MOUNTING_COUNT } from './MountingParameters.ts';
import { type MountingProblem, solveMounting } from './solveMounting.ts';

/** A part of the flight left out of the estimation, and how well it agrees with two mountings that never saw it. */
export interface HeldOutPart {
  readonly leftOut: string;
  readonly rays: number;
  /** Root of the least cost (residuals and what the trajectory had to bend, in standard deviations) over two residuals a ray. */
  readonly nominalRms: number;
  readonly estimatedRms: number;
}

export interface HeldOutCheck {
  readonly by: 'passes' | 'lights';
  readonly parts: readonly HeldOutPart[];
  /** Over all parts: least cost with the nominal mounting less that with the one estimated without them; above 0 = better. */
  readonly costGain: number;
  readonly improves: boolean;
}

/** More folds than this cost time and tell no more. */
const MOST_PARTS = 8;

/**
 * Leaves parts out in turn, estimates from the rest, and asks of each part how well it fits with the mounting held, at its
 * nominal value and as estimated, and the lens held as registered, as an inspection uses them. Its trajectory errors (and
 * places that are not surveyed) are fitted in both cases, at the cost that their deviations set. Passes are left out where lamps are surveyed; otherwise lights, with all their passes,
 * as one pass of an unknown place says nothing.
 * @returns null where there are not two parts to tell apart, or one of them could not be solved
 */
export function heldOutCheck(problem: MountingProblem): HeldOutCheck | null {
  const surveyed = problem.points.some((point) => point.surveyedSigmaM !== null);
  const keyOf = (view: MountingProblem['views'][number]): number => (surveyed ? view.pass : view.point);
  const keys = [...new Set(problem.views.map(keyOf))].sort((a, b) => a - b);
  const count = Math.min(MOST_PARTS, keys.length);
  if (count < 2) return null;
  const parts: HeldOutPart[] = [];
  let costGain = 0;
  const nobody = new Array<boolean>(MOUNTING_COUNT).fill(false);
  for (let part = 0; part < count; part++) {
    const mine = new Set(keys.filter((_, i) => i % count === part));
    const outside = solveMounting(only(problem, (view) => !mine.has(keyOf(view))));
    if (outside.kind === 'refused') return null;
    const inside = withLensHeld(only(problem, (view) => mine.has(keyOf(view))));
    const asNominal = solveMounting({ ...inside, free: nobody });
    const asEstimated = solveMounting({ ...inside, free: nobody, start: correctionAsRegistered(outside) });
    if (asNominal.kind === 'refused' || asEstimated.kind === 'refused') return null;
    costGain += asNominal.cost - asEstimated.cost;
    const rms = (cost: number): number => Math.sqrt(cost / asNominal.residualCount);
    parts.push({
      leftOut: [...mine].map((key) => (surveyed ? `pass ${key + 1}` : problem.points[key].id)).join(', '),
      rays: inside.views.reduce((sum, view) => sum + view.rays.length, 0),
      nominalRms: rms(asNominal.cost),
      estimatedRms: rms(asEstimated.cost),
    });
  }
  return { by: surveyed ? 'passes' : 'lights', parts, costGain, improves: costGain > 0 };
}

function withLensHeld(problem: MountingProblem): MountingProblem {
  const exact = new Float64Array(81);
  return {
    ...problem,
    views: problem.views.map((view) => ({ ...view, errors: { ...view.errors, lensCovariance: exact } })),
  };
}

/** The problem with some views only, and the points that those see. */
function only(problem: MountingProblem, keep: (view: MountingProblem['views'][number]) => boolean): MountingProblem {
  const views = problem.views.filter(keep);
  const seen = [...new Set(views.map((view) => view.point))].sort((a, b) => a - b);
  return {
    ...problem,
    points: seen.map((i) => problem.points[i]),
    views: views.map((view) => ({ ...view, point: seen.indexOf(view.point) })),
  };
}
