/** A robust loss as a function of the squared whitened residual s: rho(s) is minimised, weight(s) = d rho / d s. */
export interface RobustLoss {
  rho(squared: number): number;
  weight(squared: number): number;
}

/** Quadratic to `threshold` standard deviations, linear beyond: bounded influence, still convex. Source: Huber 1964. */
export const huber = (threshold: number): RobustLoss => ({
  rho: (s) => (s <= threshold * threshold ? s : 2 * threshold * Math.sqrt(s) - threshold * threshold),
  weight: (s) => (s <= threshold * threshold ? 1 : threshold / Math.sqrt(s)),
});

/** Redescending: a residual of many times `scale` loses its say altogether. Needs a good start, as it is not convex. */
export const cauchy = (scale: number): RobustLoss => ({
  rho: (s) => scale * scale * Math.log1p(s / (scale * scale)),
  weight: (s) => 1 / (1 + s / (scale * scale)),
});
