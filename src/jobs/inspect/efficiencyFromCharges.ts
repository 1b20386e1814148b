import { poissonTail } from '../../maths/distributions.ts';
import type { PhotonEvents } from '../../photon/PhotonEvents.ts';

/** With fewer events than this their charges say nothing. */
const FEWEST = 200;

/**
 * Share of single events above the finder's cut, if their charges follow a gamma law, as those of a channel plate do: the cut is
 * the first percentile of charges, the law is that whose part above the cut has the mean and variance found.
 * 1 where there are too few events to tell.
 */
export function efficiencyFromCharges(events: PhotonEvents): number {
  const charges: number[] = [];
  for (let i = 0; i < events.count; i++) if (events.flags[i] === 0) charges.push(events.charge[i]);
  if (charges.length < FEWEST) return 1;
  charges.sort((a, b) => a - b);
  const first = Math.floor(charges.length / 100);
  const cut = charges[first];
  // A hundredth at the top is left aside: what overlaps another event is no single one.
  const above = charges.slice(first, charges.length - first);
  const mean = above.reduce((sum, q) => sum + q, 0) / above.length;
  const variance = above.reduce((sum, q) => sum + (q - mean) ** 2, 0) / above.length;
  let shape = (mean * mean) / variance;
  let scale = variance / mean;
  const top = charges[charges.length - first - 1];
  // Moments of the part between cut and top: E[q^j] of a gamma law follow from its tails with raised shape.
  for (let i = 0; i < 200; i++) {
    const tail = (k: number): number => poissonTail(k, top / scale) - poissonTail(k, cut / scale);
    const share = tail(shape);
    const m1 = (shape * scale * tail(shape + 1)) / share;
    const m2 = (shape * (shape + 1) * scale * scale * tail(shape + 2)) / share;
    // Mean and variance of the whole law are moved by what those of the part miss.
    const wholeMean = shape * scale * (mean / m1) ** 0.5;
    const wholeVariance = shape * scale * scale * (variance / (m2 - m1 * m1)) ** 0.5;
    const nextShape = Math.max(0.5, Math.min(50, (wholeMean * wholeMean) / wholeVariance));
    const done = Math.abs(nextShape - shape) < 1e-6;
    shape = nextShape;
    scale = wholeMean / shape;
    if (done) break;
  }
  return 1 - poissonTail(shape, cut / scale);
}
