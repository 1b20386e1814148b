import type { LineModel } from '../../line/LineModel.ts';
import { type ComponentCoverage, coverComponents, toFlyAgain } from '../../place/coverComponents.ts';
import type { FlightAssumptions } from '../../place/plan/flightFigures.ts';
import { posesOfPasses } from '../../place/plan/posesOfPasses.ts';
import type { ProposedPass } from '../../place/plan/proposePasses.ts';
import { PARAMETERS } from '../inspect/parameters.ts';

/** How one component would be seen by the proposed passes, at its worst seen place. */
export interface PlannedView
  extends Pick<
    ComponentCoverage,
    'componentId' | 'passes' | 'viewAzimuthsDeg' | 'framesInView' | 'nearestRangeM' | 'limitHz' | 'hiddenBy'
  > {
  /** Why the passes do not prove it; null where they do. */
  readonly missed: string | null;
}

/** Every tenth of a second is looked at, and stands for the frames beside it. */
const LOOKS_PER_S = 10;
/** A line longer than this many looks at components is to be planned in sections. */
const MOST_LOOKS = 4e7;

/** Views of each component by the passes; null where the line is too long for it. */
export function viewsOfPlan(
  line: LineModel,
  passes: readonly ProposedPass[],
  speedMps: number,
  assumptions: FlightAssumptions,
): PlannedView[] | null {
  const lengthM = passes.reduce((sum, pass) => sum + pass.lengthM, 0);
  if ((lengthM / speedMps) * LOOKS_PER_S * line.components.length > MOST_LOOKS) return null;
  const each = Math.max(1, Math.round(assumptions.frameRateHz / LOOKS_PER_S));
  const poses = posesOfPasses(passes, {
    speedMps,
    frameRateHz: assumptions.frameRateHz / each,
    exposureS: assumptions.exposureS,
    mounting: assumptions.mounting,
  });
  const covered = coverComponents(line, poses, assumptions.uvLens, {
    // Each look stands for `each` frames of light.
    eventsPerPhotonAt: (rangeM) => each * assumptions.eventsPerPhotonAt(rangeM),
    eventsNeeded: (looks) => assumptions.eventsNeeded(each * looks),
    leastFrames: assumptions.leastFrames / each,
    nearestM: PARAMETERS.nearestM,
    farthestM: PARAMETERS.farthestM,
    frameStep: 1,
  });
  return covered.map((c) => ({
    componentId: c.componentId,
    passes: c.passes,
    viewAzimuthsDeg: c.viewAzimuthsDeg,
    framesInView: each * c.framesInView,
    nearestRangeM: c.nearestRangeM,
    limitHz: c.limitHz,
    hiddenBy: c.hiddenBy,
    missed: toFlyAgain([c], Number.POSITIVE_INFINITY)[0]?.because ?? null,
  }));
}
