import { radFromDeg } from '../../maths/angle.ts';
import { lightInstantSigmaS } from '../../place/lightInstant.ts';
import type { SystematicErrors } from '../../place/SystematicErrors.ts';
import type { Mounting } from '../../rig/Mounting.ts';
import { type Registration, TWO_CAMERA_PARAMETER_COUNT } from '../../rig/Registration.ts';
import type { Track } from '../../trajectory/Track.ts';
import { PARAMETERS } from './parameters.ts';

/**
 * What the rays of a pass around a moment are wrong by together: from the trajectory's own columns, mounting and bench.
 * @param light exposure, mains and length of the pass, for sources that glow with the mains; missing for lamps
 */
export function systematicErrors(
  track: Track,
  tNs: number,
  mounting: Mounting,
  registration: Registration,
  light?: Parameters<typeof lightInstantSigmaS>[0],
): SystematicErrors {
  const row = nearestRow(track.tNs, tNs);
  const { sigma } = track.table;
  const at = sigma
    ? {
        northM: sigma.northM[row],
        eastM: sigma.eastM[row],
        downM: sigma.downM[row],
        rollDeg: sigma.rollDeg[row],
        pitchDeg: sigma.pitchDeg[row],
        headingDeg: sigma.headingDeg[row],
      }
    : track.assumedSigma;
  if (!at) throw new Error('a track has standard deviations, its own or assumed ones');
  return {
    // North and east of the aircraft's place and of the campaign's origin differ by the meridians' convergence: no matter here.
    positionSigmaEnuM: [at.eastM, at.northM, at.downM],
    attitudeSigmaRad: {
      roll: radFromDeg(at.rollDeg),
      pitch: radFromDeg(at.pitchDeg),
      heading: radFromDeg(at.headingDeg),
    },
    positionCorrelationS: PARAMETERS.positionCorrelationS,
    attitudeCorrelationS: PARAMETERS.attitudeCorrelationS,
    ...(light ? { lightInstantSigmaS: lightInstantSigmaS(light) } : {}),
    rigKey: rigKeyOf(mounting, registration),
    mounting,
    lens: registration.model.uv,
    lensCovariance: uvLensBlock(registration),
  };
}

/**
 * Flights with the same bench run and the same mounting share what these are wrong by. The mounting is told by its numbers, so that a
 * mounting measured anew makes another rig.
 */
function rigKeyOf(mounting: Mounting, registration: Registration): string {
  const { rotation, translation } = mounting.bodyFromUv;
  return JSON.stringify([registration.hash, rotation, translation, mounting.timeOffsetNs]);
}

/** The 9 x 9 block of the uv lens, row by row. */
function uvLensBlock(registration: Registration): Float64Array {
  const block = new Float64Array(81);
  for (let i = 0; i < 9; i++)
    for (let j = 0; j < 9; j++) block[9 * i + j] = registration.covariance[TWO_CAMERA_PARAMETER_COUNT * i + j];
  return block;
}

function nearestRow(tNs: Float64Array, at: number): number {
  let low = 0;
  let high = tNs.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (tNs[middle] <= at) low = middle;
    else high = middle;
  }
  return at - tNs[low] <= tNs[high] - at ? low : high;
}
