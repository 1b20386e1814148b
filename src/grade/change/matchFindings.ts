import { chiSquareQuantile, chiSquareTail } from '../../maths/distributions.ts';
import { leastCostPairs, type PossiblePair } from '../../maths/leastCostPairs.ts';
import { addMat, determinant, invert, type Mat3, quadraticForm } from '../../maths/mat3.ts';
import { subtract } from '../../maths/vec3.ts';
import type { ComparedFinding } from './ComparedFinding.ts';
import type { ChangeParameters } from './changeParameters.ts';

export interface FindingPair {
  readonly earlier: number;
  readonly later: number;
  /** Squared difference of the places in standard deviations of that difference, and the chance of a larger one. */
  readonly squaredDistance: number;
  readonly gateTail: number;
  /** Probability that both sit on one component. */
  readonly sharedComponent: number;
}

/**
 * Which finding of one campaign is which of the other. The difference of two places is judged by both covariances and by how
 * far hardware of that kind moves; components by the probability that both sit on the same one. Of all sets of pairs within the
 * gate the likeliest is taken, each finding used once.
 */
export function matchFindings(
  earlier: readonly ComparedFinding[],
  later: readonly ComparedFinding[],
  parameters: ChangeParameters,
): FindingPair[] {
  const gate = chiSquareQuantile(parameters.gateProbability, 3);
  const found: FindingPair[] = [];
  const pairs: PossiblePair[] = [];
  earlier.forEach((a, row) => {
    later.forEach((b, column) => {
      const difference = subtract(b.positionEnuM, a.positionEnuM);
      const covariance = addMat(addMat(a.covarianceEnuM2, b.covarianceEnuM2), movement(b, parameters));
      const weight = invert(covariance);
      if (!weight) return;
      const squaredDistance = quadraticForm(weight, difference);
      if (!(squaredDistance <= gate)) return;
      const sharedComponent = shared(a, b);
      // -2 ln of the density of this difference times the chance of one component; 1 m³ as unit of volume.
      const cost =
        squaredDistance +
        Math.log(determinant(covariance)) -
        2 * Math.log(Math.max(sharedComponent, parameters.leastShared));
      pairs.push({ row, column, cost });
      found.push({
        earlier: row,
        later: column,
        squaredDistance,
        gateTail: chiSquareTail(squaredDistance, 3),
        sharedComponent,
      });
    });
  });
  // Alone: as unlikely as a pair at the gate that agrees on the component only by the least chance counted.
  const alone = gate - 2 * Math.log(parameters.leastShared) - 2;
  return leastCostPairs(pairs, alone).map((k) => found[k]);
}

/** Components shared by chance of both; 1 where either knows of no component, so that the place alone decides. */
function shared(a: ComparedFinding, b: ComparedFinding): number {
  const of = (finding: ComparedFinding, id: string | null): number =>
    finding.candidates.find(({ componentId }) => componentId === id)?.probability ?? 0;
  return a.candidates.reduce((sum, { componentId, probability }) => sum + probability * of(b, componentId), 0);
}

/** Covariance of how far hardware of this kind moves between two years. */
function movement({ componentKind, alongEnu }: ComparedFinding, parameters: ChangeParameters): Mat3 {
  const inSpan =
    componentKind === 'conductor' ||
    componentKind === 'earth wire' ||
    componentKind === 'spacer' ||
    componentKind === 'damper' ||
    componentKind === 'joint';
  if (!inSpan || alongEnu === null) {
    const { levelM, upM } = inSpan
      ? { levelM: parameters.spanMovesM.acrossM, upM: parameters.spanMovesM.upM }
      : parameters.hardwareMovesM;
    return [levelM ** 2, 0, 0, 0, levelM ** 2, 0, 0, 0, upM ** 2];
  }
  const { alongM, acrossM, upM } = parameters.spanMovesM;
  const [e, n] = alongEnu;
  const [along, across] = [alongM ** 2, acrossM ** 2];
  return [
    e * e * along + n * n * across,
    e * n * (along - across),
    0,
    e * n * (along - across),
    n * n * along + e * e * across,
    0,
    0,
    0,
    upM ** 2,
  ];
}
