import { type Mat3, multiply, multiplyVec, transpose } from '../maths/mat3.ts';
import { inverse, type RigidTransform, transformPoint } from '../maths/rigidTransform.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { ecefFromGeodetic, ecefFromNedAt, geodeticFromEcef } from './ecef.ts';
import type { Llh } from './Llh.ts';

/**
 * The campaign's east-north-up frame: a rigid turn and shift of earth-centred coordinates, so distances are true
 * everywhere in it. "Up" is the ellipsoid's normal at the origin only: 10 km away the plumb line leans by 0.09 degrees.
 */
export interface LocalFrame {
  readonly originLlh: Llh;
  readonly ecefFromEnu: RigidTransform;
  enuFromLlh(llh: Llh): Vec3;
  llhFromEnu(pointEnuM: Vec3): Llh;
  /** Rotation from north-east-down axes at `llh` (an aircraft's place) to this frame's axes. */
  enuFromNedAt(llh: Llh): Mat3;
}

/** Columns: where the axes of NED point in ENU at one and the same place. Its own inverse. */
export const ENU_FROM_NED: Mat3 = [0, 1, 0, 1, 0, 0, 0, 0, -1];

/** Accuracy: rounding only (1e-9 m). Source: IOGP Guidance Note 7-2, EPSG methods 9836 and 9837. */
export function localFrameAt(originLlh: Llh): LocalFrame {
  const ecefFromEnu: RigidTransform = {
    rotation: multiply(ecefFromNedAt(originLlh), ENU_FROM_NED),
    translation: ecefFromGeodetic(originLlh),
  };
  const enuFromEcef = inverse(ecefFromEnu);
  const rotation = transpose(ecefFromEnu.rotation);
  const [ox, oy, oz] = ecefFromEnu.translation;
  return {
    originLlh,
    ecefFromEnu,
    // The origin is taken off before turning: turning 6400 km first would cost three digits.
    enuFromLlh: (llh) => {
      const [x, y, z] = ecefFromGeodetic(llh);
      return multiplyVec(rotation, [x - ox, y - oy, z - oz]);
    },
    llhFromEnu: (pointEnuM) => geodeticFromEcef(transformPoint(ecefFromEnu, pointEnuM)),
    enuFromNedAt: (llh) => multiply(enuFromEcef.rotation, ecefFromNedAt(llh)),
  };
}
