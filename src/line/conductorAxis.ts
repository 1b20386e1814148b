import type { Llh } from '../earth/Llh.ts';
import { type LocalFrame, localFrameAt } from '../earth/LocalFrame.ts';
import { scale, type Vec3 } from '../maths/vec3.ts';
import { catenaryFromSag, heightAt, sampleX } from './catenary.ts';

/** Straight pieces stay this near to the curve: far below what a survey or the weather leaves of a conductor's place. */
export const CHORD_ERROR_M = 0.001;

/** The upright plane through both ends of a wire, upright by the plumb line in the middle of its span. */
export interface SpanPlane {
  readonly spanM: number;
  readonly riseM: number;
  /** Level distance from the start, height above it, and how far beside the plane (right positive). */
  pointIn(llh: Llh): { readonly xM: number; readonly zM: number; readonly besideM: number };
  llhAt(xM: number, zM: number, besideM?: number): Llh;
}

export function spanPlane(startLlh: Llh, endLlh: Llh): SpanPlane {
  const atStart = localFrameAt(startLlh);
  const here = localFrameAt(atStart.llhFromEnu(scale(atStart.enuFromLlh(endLlh), 0.5)));
  const [e0, n0, u0] = here.enuFromLlh(startLlh);
  const [e1, n1, u1] = here.enuFromLlh(endLlh);
  const spanM = Math.hypot(e1 - e0, n1 - n0);
  const [east, north] = [(e1 - e0) / spanM, (n1 - n0) / spanM];
  return {
    spanM,
    riseM: u1 - u0,
    pointIn: (llh) => {
      const [e, n, u] = here.enuFromLlh(llh);
      return {
        xM: (e - e0) * east + (n - n0) * north,
        zM: u - u0,
        besideM: (e - e0) * north - (n - n0) * east,
      };
    },
    llhAt: (xM, zM, besideM = 0) =>
      here.llhFromEnu([e0 + xM * east + besideM * north, n0 + xM * north - besideM * east, u0 + zM]),
  };
}

/**
 * The hanging wire between two ends as a polyline in the campaign's frame, from start to end.
 * It hangs along the plumb line in the middle of its span, not along the campaign's up, which leans from it by
 * 0.09 degrees 10 km from the origin.
 */
export function conductorAxis(startLlh: Llh, endLlh: Llh, sagM: number, frame: LocalFrame): Vec3[] {
  const { spanM, riseM, llhAt } = spanPlane(startLlh, endLlh);
  const curve = catenaryFromSag(spanM, riseM, sagM);
  return sampleX(curve, CHORD_ERROR_M).map((xM) => frame.enuFromLlh(llhAt(xM, heightAt(curve, xM))));
}
