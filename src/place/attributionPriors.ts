import type { ComponentKind } from '../line/LineModel.ts';

/**
 * How many discharges are expected before anything is seen, relative to each other: a judgement, not a measurement,
 * to be replaced by a network's own record. Hardware counts a component, wires count a metre; where the axis of a kind
 * carries fittings at its ends, `endShare` of its discharges sit within `endLengthM` of either of them.
 * Only ratios matter: ten times as many of everything leaves the posterior as it is.
 */
export interface KindPrior {
  readonly expected: number;
  readonly per: 'component' | 'metre';
  readonly endShare: number;
  readonly endLengthM: number;
}

export const KIND_PRIORS: Readonly<Record<ComponentKind, KindPrior>> = {
  // Broken or dirty discs anywhere, and the pins, sockets and seals where the fittings begin.
  'insulator string': { expected: 1, per: 'component', endShare: 0.5, endLengthM: 0.3 },
  clamp: { expected: 0.6, per: 'component', endShare: 0, endLengthM: 0 },
  ring: { expected: 0.8, per: 'component', endShare: 0, endLengthM: 0 },
  joint: { expected: 0.4, per: 'component', endShare: 0, endLengthM: 0 },
  spacer: { expected: 0.3, per: 'component', endShare: 0, endLengthM: 0 },
  damper: { expected: 0.2, per: 'component', endShare: 0, endLengthM: 0 },
  // Broken strands and nicks: some per kilometre of phase against one per string.
  conductor: { expected: 0.005, per: 'metre', endShare: 0, endLengthM: 0 },
  'earth wire': { expected: 0.002, per: 'metre', endShare: 0, endLengthM: 0 },
};

/** Discharges on nothing the model knows (a bird's nest, a wire end, a thing left out), per cubic metre around the line. */
export const NONE_PER_M3 = 1e-4;
