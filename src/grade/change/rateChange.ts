import { normalQuantile } from '../../maths/distributions.ts';
import { NORMAL_NODES } from '../../maths/normalNodes.ts';
import { conditionalTails } from '../countingTests.ts';
import type { PhotonRate } from '../PhotonRate.ts';
import type { ChangeParameters } from './changeParameters.ts';

export interface RateChange {
  /** Later over earlier rate, with its 95 % interval. */
  readonly ratio: number;
  readonly lower: number;
  readonly upper: number;
  /** Two-sided: how often a discharge that did not change would seem to have changed as much. */
  readonly probability: number;
  /** What the ratio is uncertain by beside counting, relative standard deviations. */
  readonly budget: readonly { readonly name: string; readonly relativeSigma: number }[];
}

const Z_95 = normalQuantile(0.975);

/**
 * Whether two rates at the source differ. Range, air, exposure, gain and efficiency have been worked out of either rate; what is
 * left of their errors is the systematic factor between the two. Overdispersion and background enter as fewer effective events:
 * n = events² / (φ (events + background)), the count of a Poisson law of the same relative spread. The probability is twice
 * the smaller tail of the conditional test, each tail averaged over the log-normal law of the factor (after Cousins & Highland, NIM A
 * 320 (1992) 331).
 * @param sameRig whether the error of the efficiency is one and the same in both
 */
export function rateChange(
  earlier: PhotonRate,
  later: PhotonRate,
  sameRig: boolean,
  parameters: ChangeParameters,
): RateChange {
  const budget = systematicBudget(earlier, later, sameRig, parameters);
  const sigma = Math.hypot(...budget.map(({ relativeSigma }) => relativeSigma));
  const [n1, n2] = [effectiveEvents(earlier), effectiveEvents(later)];
  const [t1, t2] = [n1 / earlier.rateHz, n2 / later.rateHz];
  let [fewer, more] = [0, 0];
  for (const { z, weight } of NORMAL_NODES) {
    const tails = conditionalTails(n1, t1, n2, t2 * Math.exp(sigma * z));
    fewer += weight * tails.fewer;
    more += weight * tails.more;
  }
  const probability = Math.min(1, 2 * Math.min(fewer, more));
  const ratio = later.rateHz / earlier.rateHz;
  const arm = (value: number, end: number): number =>
    end > 0 && Number.isFinite(end) ? Math.log(end / value) : Number.POSITIVE_INFINITY;
  const systematic = Z_95 * sigma;
  const up = Math.hypot(
    arm(later.rateHz, later.countingInterval.upper),
    arm(earlier.rateHz, earlier.countingInterval.lower),
    systematic,
  );
  const down = Math.hypot(
    arm(later.rateHz, later.countingInterval.lower),
    arm(earlier.rateHz, earlier.countingInterval.upper),
    systematic,
  );
  return { ratio, lower: ratio * Math.exp(-down), upper: ratio * Math.exp(up), probability, budget };
}

/** Whole, at least 1: a finding has events. */
const effectiveEvents = ({ events, background, overdispersion }: PhotonRate): number =>
  Math.max(1, Math.round(events ** 2 / (overdispersion * Math.max(events + (background ?? 0), 1e-9))));

function systematicBudget(
  earlier: PhotonRate,
  later: PhotonRate,
  sameRig: boolean,
  parameters: ChangeParameters,
): RateChange['budget'] {
  const names = [...new Set([...earlier.budget, ...later.budget].map(({ name }) => name))];
  const of = (rate: PhotonRate, name: string): number =>
    rate.budget.find((one) => one.name === name)?.relativeSigma ?? 0;
  return [
    ...names.map((name) => ({
      name,
      relativeSigma:
        name === 'camera efficiency' && sameRig
          ? parameters.sameRigRelativeSigma
          : Math.hypot(of(earlier, name), of(later, name)),
    })),
    { name: 'day to day', relativeSigma: parameters.dayToDayRelativeSigma },
  ];
}
