/**
 * A central camera with Brown-Conrady distortion, in OpenCV's parameter order, so that calibrations exchange with it.
 * Camera frame: x right, y down, z forward. Pixels: (0, 0) is the centre of the top left pixel.
 * With x = X/Z, y = Y/Z, r² = x² + y²:
 *   x" = x (1 + k1 r² + k2 r⁴ + k3 r⁶) + 2 p1 x y + p2 (r² + 2 x²),   u = fx x" + cx
 *   y" = y (1 + k1 r² + k2 r⁴ + k3 r⁶) + p1 (r² + 2 y²) + 2 p2 x y,   v = fy y" + cy
 * Source: OpenCV documentation, calib3d; Brown, Photogrammetric Engineering 37 (1971) 855 (from memory).
 */
export interface Lens {
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

/** The lens parameters in the order used by every Jacobian and covariance. */
export const LENS_PARAMETERS = ['fxPx', 'fyPx', 'cxPx', 'cyPx', 'k1', 'k2', 'p1', 'p2', 'k3'] as const;

/** A lens without distortion whose axis meets the middle of the image. */
export const idealLens = (widthPx: number, heightPx: number, focalPx: number): Lens => ({
  widthPx,
  heightPx,
  fxPx: focalPx,
  fyPx: focalPx,
  cxPx: (widthPx - 1) / 2,
  cyPx: (heightPx - 1) / 2,
  k1: 0,
  k2: 0,
  p1: 0,
  p2: 0,
  k3: 0,
});
