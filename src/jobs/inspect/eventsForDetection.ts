import { poissonTail } from '../../maths/distributions.ts';

/**
 * The mean number of events in a pass that is found with 95 %, from the flight's threshold and background.
 * An event at a source of n events in F frames adds about ln(n f / (F b)) to the log-likelihood, f being the source's
 * density at the event and b the background's, both a pixel and frame; together they add n (that - 1). For a Gaussian
 * spread over the smear's length the mean of ln f is that of its peak less 1/2 across the smear and nothing along it.
 * Accuracy: docs/accuracy.md sets it against injection.
 */
export function eventsForDetection(of: {
  /** ln likelihood ratio that a sighting must reach. */
  readonly threshold: number;
  readonly framesInView: number;
  readonly backgroundPerPx: number;
  /** Scatter of a point source's events, px. */
  readonly sigmaPx: number;
  readonly exposureS: number;
  readonly frameRateHz: number;
}): number {
  // A pass crosses the image in framesInView frames; taken as 500 px, it sets the smear for any lens and speed.
  const smearPx = (500 / Math.max(1, of.framesInView)) * of.exposureS * of.frameRateHz;
  const acrossPx = Math.sqrt(2 * Math.PI * Math.E) * of.sigmaPx;
  const alongPx = Math.max(smearPx, acrossPx);
  const gainOf = (n: number): number =>
    n * (Math.log(n / (of.framesInView * of.backgroundPerPx * acrossPx * alongPx)) - 1);
  let count = 2;
  while (gainOf(count) < of.threshold && count < 10_000) count++;
  let low = count;
  let high = 4 * count + 20;
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (poissonTail(count, middle) >= 0.95) high = middle;
    else low = middle;
  }
  return high;
}
