import type { Llh } from '../earth/Llh.ts';
import { type LocalFrame, localFrameAt } from '../earth/LocalFrame.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { catenaryFromSag, heightAt, sampleX } from './catenary.ts';

/** Straight pieces stay this near to the curve: far below what a survey or the weather leaves of a conductor's place. */
export const CHORD_ERROR_M = 0.001;

/**
 * The hanging wire between two ends as a polyline in the campaign's frame, from start to end.
 * It hangs along the plumb line in the middle of its span, not along the campaign's up, which leans from it by
 * 0.09 degrees 10 km from the origin.
 */
export function conductorAxis(startLlh: Llh, endLlh: Llh, sagM: number, frame: LocalFrame): Vec3[] {
  const span = localFrameAt([startLlh[0], startLlh[1], startLlh[2]]);
  const middle = span.enuFromLlh(endLlh);
  const here = localFrameAt(span.llhFromEnu([middle[0] / 2, middle[1] / 2, middle[2] / 2]));
  const [e0, n0, u0] = here.enuFromLlh(startLlh);
  const [e1, n1, u1] = here.enuFromLlh(endLlh);
  const spanM = Math.hypot(e1 - e0, n1 - n0);
  const curve = catenaryFromSag(spanM, u1 - u0, sagM);
  return sampleX(curve, CHORD_ERROR_M).map((xM) => {
    const at = xM / spanM;
    return frame.enuFromLlh(here.llhFromEnu([e0 + at * (e1 - e0), n0 + at * (n1 - n0), u0 + heightAt(curve, xM)]));
  });
}
