import type { RigCalibration } from '../../rig/calibrateRig.ts';
import { mappingSigmaPx } from '../../rig/calibrateRig.ts';
import type { Registration } from '../../rig/Registration.ts';
import { supportAt } from '../../rig/support.ts';

export interface PredictedError {
  readonly rangeM: number;
  readonly medianSigmaPx: number;
  readonly worstSigmaPx: number;
}

export interface Verdict {
  readonly passed: boolean;
  readonly tolerancePx: number;
  readonly reasons: readonly string[];
  readonly predicted: readonly PredictedError[];
}

/** Ranges at which a survey flies, and infinity. */
const RANGES_M = [15, 20, 40, 60, Number.POSITIVE_INFINITY];
/** Held-out error this far above the noise of the target's positions means that the model misses something. */
const NOISE_RATIO = 1.1;

/** Passes where the held-out error and the predicted error from 15 m to infinity stay within the tolerance. */
export function judge(calibration: RigCalibration, registration: Registration, tolerancePx: number): Verdict {
  const { widthPx, heightPx } = registration.model.uv;
  const predicted = RANGES_M.map((rangeM) => {
    const sigmas: number[] = [];
    for (let v = 0; v < heightPx; v += 32)
      for (let u = 0; u < widthPx; u += 32) {
        if (supportAt(registration.support, u, v, 1 / registration.support.nearestM) !== 'supported') continue;
        const sigma = mappingSigmaPx(registration, u, v, 1 / rangeM);
        if (sigma !== null) sigmas.push(sigma);
      }
    sigmas.sort((a, b) => a - b);
    return {
      rangeM,
      medianSigmaPx: sigmas[sigmas.length >> 1] ?? Number.NaN,
      worstSigmaPx: sigmas.at(-1) ?? Number.NaN,
    };
  });
  const heldOut = registration.heldOutRmsPx;
  const ratio = heldOut / calibration.statistics.noiseFloorPx;
  const worst = Math.max(...predicted.map((p) => p.medianSigmaPx));
  return {
    passed: heldOut <= tolerancePx && worst <= tolerancePx,
    tolerancePx,
    reasons: [
      `held-out error ${heldOut.toFixed(3)} px, ${heldOut <= tolerancePx ? 'within' : 'above'} the tolerance`,
      `predicted error of the mapping from 15 m to infinity at most ${worst.toFixed(3)} px, ${worst <= tolerancePx ? 'within' : 'above'} the tolerance`,
      ratio <= NOISE_RATIO
        ? `held-out error is ${ratio.toFixed(2)} times the noise of the target's positions: the model leaves nothing to explain`
        : `held-out error is ${ratio.toFixed(2)} times the noise of the target's positions: the model leaves something unexplained`,
    ],
    predicted,
  };
}
