import { ENU_FROM_NED } from '../../earth/LocalFrame.ts';
import { radFromDeg, wrapDeg180 } from '../../maths/angle.ts';
import { multiply, multiplyVec, transpose } from '../../maths/mat3.ts';
import { rotationZ } from '../../maths/rotation.ts';
import { add, distance, scale, subtract, type Vec3 } from '../../maths/vec3.ts';
import type { Mounting } from '../../rig/Mounting.ts';
import type { FramePoses } from '../../sighting/EventRays.ts';
import type { ProposedPass } from './proposePasses.ts';

/** Between two passes, so that they count as two. */
const TURN_S = 60;

interface Still {
  readonly tNs: number;
  readonly positionEnuM: Vec3;
  readonly headingDeg: number;
}

/**
 * The frames that passes would give, flown level and evenly from waypoint to waypoint, one after the other.
 * @param frameRateHz of these frames: fewer than the camera takes will do for whether a place is seen
 */
export function posesOfPasses(
  passes: readonly ProposedPass[],
  flown: {
    readonly speedMps: number;
    readonly frameRateHz: number;
    readonly exposureS: number;
    readonly mounting: Mounting;
  },
): FramePoses {
  const stills: Still[] = [];
  let startS = 0;
  for (const pass of passes) {
    stills.push(...stillsOf(pass, startS, flown));
    startS += pass.lengthM / flown.speedMps + TURN_S;
  }
  const count = stills.length;
  const poses = {
    count,
    frame: Int32Array.from({ length: count }, (_, i) => i),
    tNs: Float64Array.from(stills, (still) => still.tNs),
    exposureNs: new Float64Array(count).fill(flown.exposureS * 1e9),
    originEnuM: new Float64Array(3 * count),
    uvFromEnu: new Float64Array(9 * count),
  };
  const { rotation, translation } = flown.mounting.bodyFromUv;
  stills.forEach(({ positionEnuM, headingDeg }, i) => {
    const enuFromBody = multiply(ENU_FROM_NED, rotationZ(radFromDeg(headingDeg)));
    poses.originEnuM.set(add(positionEnuM, multiplyVec(enuFromBody, translation)), 3 * i);
    poses.uvFromEnu.set(transpose(multiply(enuFromBody, rotation)), 9 * i);
  });
  return poses;
}

function stillsOf(
  { waypoints }: ProposedPass,
  startS: number,
  { speedMps, frameRateHz }: { readonly speedMps: number; readonly frameRateHz: number },
): Still[] {
  const stills: Still[] = [];
  const stepM = speedMps / frameRateHz;
  let flownM = 0;
  let nextM = 0;
  waypoints.slice(1).forEach((to, i) => {
    const from = waypoints[i];
    const lengthM = distance(from.positionEnuM, to.positionEnuM);
    const turnDeg = wrapDeg180(to.headingDeg - from.headingDeg);
    for (; nextM <= flownM + lengthM; nextM += stepM) {
      const share = (nextM - flownM) / lengthM;
      stills.push({
        tNs: Math.round((startS + nextM / speedMps) * 1e9),
        positionEnuM: add(from.positionEnuM, scale(subtract(to.positionEnuM, from.positionEnuM), share)),
        headingDeg: from.headingDeg + share * turnDeg,
      });
    }
    flownM += lengthM;
  });
  return stills;
}
