import type { InventedRig } from './World.ts';

/** True mean charge of one photon event at a gain setting, DN: the curve of the rig, log-linear between its points. */
export function meanChargeDn(rig: InventedRig, gain: number): number {
  const curve = rig.nominal.cameras.uv.gainCurve;
  const i = Math.max(0, Math.min(curve.length - 2, curve.findIndex((p) => p.gain > gain) - 1));
  const [a, b] = [curve[i]!, curve[i + 1]!];
  const share = (gain - a.gain) / (b.gain - a.gain);
  return rig.gainFactor * a.meanChargeDn * (b.meanChargeDn / a.meanChargeDn) ** share;
}
