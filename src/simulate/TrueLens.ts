import type { Vec3 } from '../maths/vec3.ts';

/** A lens as it really is; Brown-Conrady in OpenCV's convention (k1, k2, p1, p2, k3). */
export interface TrueLens {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly fxPx: number;
  readonly fyPx: number;
  readonly cxPx: number;
  readonly cyPx: number;
  readonly k1: number;
  readonly k2: number;
  readonly p1: number;
  readonly p2: number;
  readonly k3: number;
}

// The lenses invented here bend back on themselves only beyond tan(angle) = 1; no sensor of ours sees so far out.
const WIDEST_TANGENT_SQUARED = 1;

/** Distorted image-plane coordinates for undistorted ones. Source: OpenCV 4.6.0, calib3d documentation. */
function bend(lens: TrueLens, x: number, y: number): [number, number] {
  const r2 = x * x + y * y;
  const radial = 1 + r2 * (lens.k1 + r2 * (lens.k2 + r2 * lens.k3));
  return [
    x * radial + 2 * lens.p1 * x * y + lens.p2 * (r2 + 2 * x * x),
    y * radial + lens.p1 * (r2 + 2 * y * y) + 2 * lens.p2 * x * y,
  ];
}

/** Pixel at which the lens shows a point of its own frame (x right, y down, z forward); null behind it or far aside. */
export function seenAt(lens: TrueLens, pointCamM: Vec3): readonly [number, number] | null {
  const [px, py, z] = pointCamM;
  if (!(z > 1e-6)) return null;
  const x = px / z;
  const y = py / z;
  if (x * x + y * y > WIDEST_TANGENT_SQUARED) return null;
  const [xd, yd] = bend(lens, x, y);
  return [lens.fxPx * xd + lens.cxPx, lens.fyPx * yd + lens.cyPx];
}

export const isInside = (lens: TrueLens, px: readonly [number, number]): boolean =>
  px[0] >= -0.5 && px[1] >= -0.5 && px[0] < lens.widthPx - 0.5 && px[1] < lens.heightPx - 0.5;

/** Tangents (x/z, y/z) of the direction that a pixel looks into; fixed-point iteration, better than 1e-9 for our lenses. */
export function directionOf(lens: TrueLens, uPx: number, vPx: number): readonly [number, number] {
  const xd = (uPx - lens.cxPx) / lens.fxPx;
  const yd = (vPx - lens.cyPx) / lens.fyPx;
  let x = xd;
  let y = yd;
  for (let i = 0; i < 40; i++) {
    const [bx, by] = bend(lens, x, y);
    const dx = xd - bx;
    const dy = yd - by;
    x += dx;
    y += dy;
    if (Math.abs(dx) + Math.abs(dy) < 1e-10) break;
  }
  return [x, y];
}
