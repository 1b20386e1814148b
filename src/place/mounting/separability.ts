import { invertSymmetric } from '../../maths/leastSquares.ts';
import { PASS_COUNT } from '../SystematicErrors.ts';
import { MOUNTING_COUNT, MOUNTING_PARAMETERS } from './MountingParameters.ts';
import { advise, type FlownManoeuvres } from './manoeuvres.ts';
import type { MountingSolution } from './solveMounting.ts';

/** What a parameter's uncertainty comes from. */
export const LIMITS = [
  'photon noise',
  'satellite position',
  'attitude of the trajectory',
  'places of the lights',
  'lens',
  ...MOUNTING_PARAMETERS,
] as const;
export type Limit = (typeof LIMITS)[number];

export interface Separability {
  readonly sigma: number;
  readonly priorSigma: number | null;
  /** How much of the prior's deviation the flight leaves; null without a prior. */
  readonly leftOfPrior: number | null;
  readonly verdict: 'determined' | 'partly determined' | 'not determined';
  /** The other one of the seven it is most correlated with. */
  readonly mostCorrelated: { readonly with: (typeof MOUNTING_PARAMETERS)[number]; readonly correlation: number };
  /** Share of the variance that would go if this were known, largest first; shares overlap and do not add up to 1. */
  readonly limits: readonly { readonly by: Limit; readonly share: number }[];
  /** Sentences: why it is not better, and what to fly. Empty where it is determined as well as wanted. */
  readonly advice: readonly string[];
}

/** Deviations that serve: a boresight of 0.005 degrees and a lever arm of 5 mm are 3.5 mm and 5 mm at 40 m, 50 us are 1 mm at 20 m/s. */
export const WANTED_SIGMA = { boresightRad: (0.005 * Math.PI) / 180, leverArmM: 0.005, timeOffsetS: 50e-6 } as const;

/** Of a prior, a half is news; nine tenths are none. */
const DETERMINED_SHARE = 0.5;
const UNDETERMINED_SHARE = 0.9;
/** A cause that takes less of the variance than this is not worth a flight. */
const WORTH_SAYING = 0.4;

export const wantedSigma = (parameter: number): number =>
  parameter < 3 ? WANTED_SIGMA.boresightRad : parameter < 6 ? WANTED_SIGMA.leverArmM : WANTED_SIGMA.timeOffsetS;

/**
 * What the flight says of each free parameter and what keeps it from saying more: the variance left if a group of the
 * other unknowns were known, C_xx - C_xg C_gg⁻¹ C_gx (the conditional of a normal law), against the variance as it is.
 * @param priorSigma of each of the seven, null where no prior was used
 */
export function separability(
  solution: MountingSolution,
  views: number,
  priorSigma: readonly (number | null)[],
  flown: FlownManoeuvres,
): ReadonlyMap<number, Separability> {
  const { covariance, columns } = solution;
  const groups = groupsOf(solution, views);
  const information = invertSymmetric(covariance);
  const gains = [...groups].flatMap(([by, members]) => {
    const inverse = invertSymmetric(covariance.selection(members, members));
    return inverse ? [{ by, members, inverse }] : [];
  });
  const out = new Map<number, Separability>();
  columns.mounting.forEach((parameter, x) => {
    const variance = covariance.get(x, x);
    const limits: { by: Limit; share: number }[] = gains
      .filter(({ members }) => !members.includes(x))
      .map(({ by, members, inverse }) => {
        const row = covariance.selection([x], members);
        return { by, share: row.mmul(inverse).mmul(row.transpose()).get(0, 0) / variance };
      });
    // The variance if all other unknowns were known is the inverse of the information's diagonal: the rays' own.
    limits.push({ by: 'photon noise', share: information ? 1 / (information.get(x, x) * variance) : 0 });
    limits.sort((a, b) => b.share - a.share);
    const sigma = Math.sqrt(variance);
    const prior = priorSigma[parameter];
    const leftOfPrior = prior === null ? null : sigma / prior;
    const verdict =
      leftOfPrior === null
        ? sigma <= 4 * wantedSigma(parameter)
          ? 'determined'
          : 'not determined'
        : leftOfPrior <= DETERMINED_SHARE
          ? 'determined'
          : leftOfPrior <= UNDETERMINED_SHARE
            ? 'partly determined'
            : 'not determined';
    const correlations = columns.mounting
      .map((other, y) => ({
        with: MOUNTING_PARAMETERS[other],
        correlation: covariance.get(x, y) / Math.sqrt(variance * covariance.get(y, y)),
        itself: y === x,
      }))
      .filter((c) => !c.itself)
      .sort((a, b) => Math.abs(b.correlation) - Math.abs(a.correlation));
    const good = verdict === 'determined' && sigma <= wantedSigma(parameter);
    out.set(parameter, {
      sigma,
      priorSigma: prior,
      leftOfPrior,
      verdict,
      mostCorrelated: correlations[0]
        ? { with: correlations[0].with, correlation: correlations[0].correlation }
        : { with: MOUNTING_PARAMETERS[parameter], correlation: 1 },
      limits,
      advice: good
        ? []
        : limits
            .filter((l) => l.share >= WORTH_SAYING)
            .slice(0, 3)
            .map((l) => advise(flown, parameter, l.by)),
    });
  });
  return out;
}

function groupsOf({ columns }: MountingSolution, views: number): Map<Limit, number[]> {
  const groups = new Map<Limit, number[]>();
  const ofViews = (from: number, to: number): number[] =>
    Array.from({ length: views }, (_, v) => v).flatMap((v) =>
      Array.from({ length: to - from }, (_, p) => columns.view(v) + from + p),
    );
  groups.set('satellite position', ofViews(0, 3));
  groups.set('attitude of the trajectory', ofViews(3, PASS_COUNT));
  groups.set(
    'lens',
    Array.from({ length: 9 }, (_, i) => columns.lens + i),
  );
  groups.set(
    'places of the lights',
    Array.from({ length: columns.total - columns.point(0) }, (_, i) => columns.point(0) + i),
  );
  for (let i = 0; i < MOUNTING_COUNT; i++) {
    const at = columns.mounting.indexOf(i);
    if (at >= 0) groups.set(MOUNTING_PARAMETERS[i], [at]);
  }
  return groups;
}
