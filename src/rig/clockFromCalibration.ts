import { type RigidTransform, transformPoint } from '../maths/rigidTransform.ts';
import { norm } from '../maths/vec3.ts';
import type { BenchFrame, BenchRun } from './BenchObservations.ts';
import type { Correspondence } from './Correspondence.ts';
import { colourPxFromUv } from './colourFromUv.ts';
import type { TwoCameraModel } from './Registration.ts';
import { fieldScale, polynomialTerms } from './residualField.ts';
import { type RigState, resectFrames, type SigmaFactors } from './rigBundle.ts';
import { type ClockOutcome, type ClockSample, estimateClock } from './streamClock.ts';

/**
 * What is left of an offset between the streams after a calibration at given stamps. Ranges come from the ultraviolet image
 * alone: poses that both streams have shaped would hide a part of the lateness in their parallax.
 */
export function clockFromCalibration(
  run: BenchRun,
  frames: readonly BenchFrame[],
  poses: ReadonlyMap<BenchFrame, RigidTransform>,
  state: RigState,
  factors: SigmaFactors,
  correspondences: readonly Correspondence[],
): ClockOutcome {
  const resected = resectFrames(run, frames, poses, state, factors);
  if (!resected) return { kind: 'refused', because: 'too few marks in motion' };
  const number = new Map(frames.map((f, i) => [f, i]));
  const { centrePx, halfWidthPx } = fieldScale(state.uv);
  const model: TwoCameraModel = { kind: 'two-camera', ...state, residualField: [] };
  const nearest = Math.max(...correspondences.map((c) => c.inverseRangePerM));
  const samples: ClockSample[] = [];
  for (const c of correspondences) {
    const frame = number.get(c.frame)!;
    const rate = c.frame.marks.find((m) => m.mark === c.mark)?.uvRatePxPerS;
    if (!rate) continue;
    const inverseRange = 1 / norm(transformPoint(resected[frame], state.targetPointsM[c.mark]));
    const [u, v] = c.uv;
    const at = colourPxFromUv(model, u, v, inverseRange);
    const right = colourPxFromUv(model, u + 1, v, inverseRange);
    const below = colourPxFromUv(model, u, v + 1, inverseRange);
    if (!at || !right || !below) continue;
    const x = (u - centrePx[0]) / halfWidthPx;
    const y = (v - centrePx[1]) / halfWidthPx;
    const q = inverseRange / nearest;
    samples.push({
      frame,
      tNs: c.frame.tNs,
      residualPx: [c.colour[0] - at[0], c.colour[1] - at[1]],
      ratePxPerS: [
        (right[0] - at[0]) * rate[0] + (below[0] - at[0]) * rate[1],
        (right[1] - at[1]) * rate[0] + (below[1] - at[1]) * rate[1],
      ],
      sigmaPx: c.sigmaPx,
      nuisance: [...polynomialTerms(x, y, 3), q, q * x, q * y],
    });
  }
  return estimateClock(samples);
}
