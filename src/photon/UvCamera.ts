import { InputError } from '../input/InputError.ts';

/** What the photon finder must know of the intensified camera; the same names as in `rig.json`. */
export interface UvCamera {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly bitDepth: number;
  /** Radius (1 sigma) of the spot that one photon event makes. */
  readonly spotSigmaPx: number;
  /** Largest value the sensor can give. */
  readonly saturationLevel: number;
  /** Mean summed signal of one event by gain setting, at least one entry; log-linear between, extended beyond the ends. */
  readonly gainCurve: readonly { readonly gain: number; readonly meanChargeDn: number }[];
}

/** Mean summed signal of one event at a gain setting, DN, by the camera's gain curve: ln(charge) is piecewise linear in gain. */
export function meanChargeDn(camera: Pick<UvCamera, 'gainCurve'>, gain: number): number {
  const curve = [...camera.gainCurve].sort((a, b) => a.gain - b.gain);
  if (curve.length === 0)
    throw new InputError({
      file: 'rig.json',
      field: 'cameras.uv.gainCurve',
      found: 'an empty list',
      expected: 'at least one gain with its mean charge',
      todo: 'Give the mean summed signal of one event at one gain setting or more.',
    });
  if (curve.length === 1) return curve[0].meanChargeDn;
  let i = 0;
  while (i < curve.length - 2 && gain > curve[i + 1].gain) i++;
  const { gain: g0, meanChargeDn: q0 } = curve[i];
  const { gain: g1, meanChargeDn: q1 } = curve[i + 1];
  return q0 * (q1 / q0) ** ((gain - g0) / (g1 - g0));
}
