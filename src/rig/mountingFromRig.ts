import { diagonal3, type Mat3, multiply } from '../maths/mat3.ts';
import { rotationFromYawPitchRoll } from '../maths/rotation.ts';
import type { RigDescription } from '../recording/RigDescription.ts';
import type { Mounting } from './Mounting.ts';

/** Takes a camera that looks ahead to the body: camera z to body x, camera x to body y, camera y to body z. */
const BODY_FROM_FORWARD_CAMERA: Mat3 = [0, 0, 1, 1, 0, 0, 0, 1, 0];

/** The mounting as `rig.json` states it: bodyFromUv = Rz(yaw) Ry(pitch) Rx(roll) A, with its standard deviations. */
export function mountingFromRig(rig: RigDescription): Mounting {
  const { mounting } = rig;
  const rad = Math.PI / 180;
  const lever = mounting.leverArmSigmaM ** 2;
  const boresight = (mounting.boresightSigmaDeg * rad) ** 2;
  return {
    bodyFromUv: {
      rotation: multiply(
        rotationFromYawPitchRoll(mounting.yawDeg * rad, mounting.pitchDeg * rad, mounting.rollDeg * rad),
        BODY_FROM_FORWARD_CAMERA,
      ),
      translation: mounting.uvInBodyM,
    },
    leverArmCovarianceM2: diagonal3(lever, lever, lever),
    boresightCovarianceRad2: diagonal3(boresight, boresight, boresight),
    timeOffsetNs: 0,
    timeOffsetSigmaNs: mounting.timeOffsetSigmaMs * 1e6,
  };
}
