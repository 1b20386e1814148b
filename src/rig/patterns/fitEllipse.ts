import { solveLeastSquares } from '../../maths/leastSquares.ts';
import { huber } from '../../maths/robustLoss.ts';
import { edgeCrossing } from './edgeCrossing.ts';
import type { GreyImage } from './GreyImage.ts';

/** (p - centre)ᵀ M (p - centre) = 1 with M = [[xx, xy], [xy, yy]]. */
export interface Ellipse {
  readonly u: number;
  readonly v: number;
  readonly xx: number;
  readonly xy: number;
  readonly yy: number;
}

export interface FittedEllipse extends Ellipse {
  /** Of u and of v. */
  readonly sigmaPx: number;
  /** Root mean square distance of the edge from the ellipse. */
  readonly rmsPx: number;
  /** Share of the outline at which an edge was seen. */
  readonly seenShare: number;
}

const LOSS = huber(2.5);
/** An edge in one place is known to about this, px; the fit's own residuals correct it. */
const EDGE_SIGMA_PX = 0.1;

/**
 * The ellipse of an edge: its place is measured across the outline in many directions, each between the levels of its own
 * two sides, and an ellipse laid through by least squares of the distances; places where something else shows lose their
 * weight. The centre is that of the ellipse, which is not the picture of the circle's centre: see discCentreBias.ts.
 * @param start  about where it is
 * @param reach  how far across the outline to look, px to either side; less than the width of the ring or of the gap round it
 * @returns      null where less than 60 % of the outline shows an edge, or it is no ellipse
 * Source: Sampson, Computer Graphics and Image Processing 18 (1982) 97 for the distance to first order (from memory).
 */
export function fitEllipse(image: GreyImage, start: Ellipse, reach: number): FittedEllipse | null {
  let ellipse = start;
  let fitted: FittedEllipse | null = null;
  for (let round = 0; round < 2; round++) {
    const edge = edgePoints(image, ellipse, reach);
    if (!edge) return null;
    fitted = throughPoints(edge.points, ellipse, edge.seenShare);
    if (!fitted) return null;
    ellipse = fitted;
  }
  return fitted;
}

function edgePoints(
  image: GreyImage,
  { u, v, xx, xy, yy }: Ellipse,
  reach: number,
): { points: [number, number][]; seenShare: number } | null {
  const size = 1 / Math.sqrt(Math.sqrt(xx * yy - xy * xy));
  const count = Math.max(24, Math.min(96, Math.round(3 * size)));
  const points: [number, number][] = [];
  for (let i = 0; i < count; i++) {
    const angle = (2 * Math.PI * i) / count;
    const [c, s] = [Math.cos(angle), Math.sin(angle)];
    const radius = 1 / Math.sqrt(xx * c * c + 2 * xy * c * s + yy * s * s);
    const [x, y] = [u + radius * c, v + radius * s];
    const [gx, gy] = [xx * radius * c + xy * radius * s, xy * radius * c + yy * radius * s];
    const g = Math.hypot(gx, gy);
    const off = edgeCrossing(image, x, y, gx / g, gy / g, reach);
    if (off !== null) points.push([x + (off * gx) / g, y + (off * gy) / g]);
  }
  return points.length >= 0.6 * count ? { points, seenShare: points.length / count } : null;
}

function throughPoints(
  points: readonly (readonly [number, number])[],
  start: Ellipse,
  seenShare: number,
): FittedEllipse | null {
  const outcome = solveLeastSquares({
    start: [start.u, start.v, start.xx, start.xy, start.yy],
    residualCount: points.length,
    loss: LOSS,
    maxIterations: 40,
    evaluateInto(residuals, jacobian, [u, v, xx, xy, yy]) {
      if (!(xx > 0 && xx * yy > xy * xy)) return false;
      for (let i = 0; i < points.length; i++) {
        const [dx, dy] = [points[i][0] - u, points[i][1] - v];
        const [mx, my] = [xx * dx + xy * dy, xy * dx + yy * dy];
        const f = Math.sqrt(dx * mx + dy * my);
        const g = Math.hypot(mx, my) / f;
        const k = 1 / (g * EDGE_SIGMA_PX);
        residuals[i] = (f - 1) * k;
        if (!jacobian) continue;
        // The gradient's own change is of second order in the distance.
        const row = 5 * i;
        jacobian[row] = (-mx / f) * k;
        jacobian[row + 1] = (-my / f) * k;
        jacobian[row + 2] = ((dx * dx) / (2 * f)) * k;
        jacobian[row + 3] = ((dx * dy) / f) * k;
        jacobian[row + 4] = ((dy * dy) / (2 * f)) * k;
      }
      return true;
    },
  });
  if (outcome.kind === 'refused') return null;
  const [u, v, xx, xy, yy] = outcome.parameters;
  const { covariance, weights, chiSquare } = outcome;
  const weighted = outcome.residuals.reduce((sum, r, i) => sum + weights[i] * r * r, 0);
  const scale = weighted / (points.length - 5);
  const variance = ((covariance.get(0, 0) + covariance.get(1, 1)) / 2) * scale;
  return {
    u,
    v,
    xx,
    xy,
    yy,
    sigmaPx: Math.sqrt(variance),
    rmsPx: EDGE_SIGMA_PX * Math.sqrt(chiSquare / points.length),
    seenShare,
  };
}
