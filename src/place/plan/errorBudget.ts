/** What a position across the ray is made of; all one standard deviation. */
export interface BudgetInput {
  readonly rangeM: number;
  readonly speedMps: number;
  readonly turnRadps: number;
  readonly focalPx: number;
  readonly gnssM: number;
  readonly tiltRad: number;
  readonly headingRad: number;
  readonly boresightRad: number;
  readonly leverArmM: number;
  readonly timeS: number;
  readonly pixelPx: number;
}

export interface ErrorBudget {
  /** Each part in metres at the discharge. */
  readonly parts: readonly { readonly name: string; readonly sigmaM: number }[];
  /** Their sum in quadrature. */
  readonly acrossM: number;
}

/**
 * First-order error of one ray across itself, metres, 1 sigma. Every part stands in full: along the line the heading and the
 * speed count, upwards the tilt, so this is an upper view of either direction; the depth does not come from one ray at all.
 */
export function errorBudget(of: BudgetInput): ErrorBudget {
  const parts = [
    { name: 'position of the trajectory', sigmaM: of.gnssM },
    { name: 'roll and pitch', sigmaM: of.rangeM * of.tiltRad },
    { name: 'heading', sigmaM: of.rangeM * of.headingRad },
    { name: 'boresight', sigmaM: of.rangeM * of.boresightRad },
    { name: 'lever arm', sigmaM: of.leverArmM },
    { name: 'time, by the speed', sigmaM: of.speedMps * of.timeS },
    { name: 'time, by the turning', sigmaM: of.rangeM * of.turnRadps * of.timeS },
    { name: 'one event in the image', sigmaM: (of.rangeM * of.pixelPx) / of.focalPx },
  ];
  return { parts, acrossM: Math.hypot(...parts.map((part) => part.sigmaM)) };
}
