import type { Mat3 } from '../../maths/mat3.ts';
import { gatherDischarges } from '../gatherDischarges.ts';
import { placeSighting } from '../placeSighting.ts';
import type { SystematicErrors } from '../SystematicErrors.ts';
import { type PassGeometry, virtualSighting } from './virtualPass.ts';

/** Standard deviations of a position by direction, 1 sigma: across the line (the depth), along it, and up. */
export interface PositionSigma {
  readonly acrossM: number;
  readonly alongM: number;
  readonly upM: number;
}

export type ExpectedPosition =
  | { readonly kind: 'placed'; readonly sigma: PositionSigma; readonly crossingDeg: number }
  | { readonly kind: 'refused'; readonly because: string };

/** Time between the passes on either side, for what of the trajectory's errors they share. */
const BETWEEN_PASSES_NS = 300e9;

/**
 * How well a discharge will be placed: a virtual pass without errors goes through the placing itself, whose covariance is
 * the answer. `sides` of two is a pass on either side, joined as an inspection joins them.
 */
export function expectedPosition(
  pass: Omit<PassGeometry, 'side' | 'startNs'>,
  sides: 1 | 2,
  events: number,
  eventSigmaPx: number,
  errors: SystematicErrors,
): ExpectedPosition {
  const first = virtualSighting('north', { ...pass, side: 'north', startNs: 0 }, events, eventSigmaPx);
  if (!first) return { kind: 'refused', because: 'not in view for two frames' };
  if (sides === 1) {
    const placed = placeSighting(first.sighting, first.rays, first.poses, errors);
    if (placed.kind === 'refused') return placed;
    return { kind: 'placed', sigma: sigmaOf(placed.covarianceEnuM2), crossingDeg: placed.crossingDeg };
  }
  const second = virtualSighting('south', { ...pass, side: 'south', startNs: BETWEEN_PASSES_NS }, events, eventSigmaPx);
  if (!second) return { kind: 'refused', because: 'not in view for two frames' };
  const { discharges, unplaced } = gatherDischarges(
    [first, second].map((each) => ({ flight: 'planned', errors, ...each })),
  );
  if (discharges.length !== 1)
    return { kind: 'refused', because: unplaced[0]?.refusal.because ?? 'the passes do not join' };
  const { placement } = discharges[0];
  return { kind: 'placed', sigma: sigmaOf(placement.covarianceEnuM2), crossingDeg: placement.crossingDeg };
}

/** The line of a virtual pass runs east. */
const sigmaOf = (covarianceEnuM2: Mat3): PositionSigma => ({
  acrossM: Math.sqrt(covarianceEnuM2[4]),
  alongM: Math.sqrt(covarianceEnuM2[0]),
  upM: Math.sqrt(covarianceEnuM2[8]),
});
