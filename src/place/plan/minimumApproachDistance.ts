/** One published distance to live parts, for people who work there; none of them was written for aircraft. */
export interface ApproachDistance {
  readonly publication: string;
  /** What the publication calls the distance. */
  readonly meaning: string;
  readonly distanceM: number;
}

/** What has to stand beside every such figure. */
export const APPROACH_CAUTION =
  'These distances are for qualified workers. Clearances in flight are another matter: local law, the rules of the ' +
  "line's owner and the competent person decide. The figures hold up to 900 m above the sea.";

/**
 * Minimum approach distance, phase to ground, in metres, for more than 72.5 kV up to 800 kV line to line, up to 900 m
 * above the sea: 0.3048 (C + a) V T A + 0.31 with C = 0.011, A = 1, V the highest voltage to ground of the system in kV,
 * T the largest transient overvoltage assumed where none was determined.
 * Source: 29 CFR 1910.269, tables R-3 and R-7 (formula from memory; values of T as published).
 * Accuracy: agrees with the distances of table R-7 to the centimetre to which they are printed.
 */
export function oshaDistanceM(voltageKv: number): number {
  const toGroundKv = voltageKv / Math.sqrt(3);
  const transient = voltageKv <= 420 ? 3.5 : voltageKv <= 550 ? 3 : 2.5;
  const peakKv = transient * toGroundKv * Math.SQRT2;
  const saturation =
    peakKv <= 635
      ? 0
      : peakKv <= 915
        ? (peakKv - 635) / 140_000
        : peakKv <= 1050
          ? (peakKv - 645) / 135_000
          : (peakKv - 675) / 125_000;
  return 0.3048 * (0.011 + saturation) * toGroundKv * transient + 0.31;
}

/** Upper ends of the voltage ranges of table R-7: every line of a range has the distance of its upper end. */
const OSHA_RANGES_KV = [121, 145, 169, 242, 362, 420, 550, 800];

/** Nominal voltage (kV), danger zone and vicinity zone (m). Source: EN 50110-1, table A.1, as reprinted in public manuals. */
const EN_50110: readonly (readonly [number, number, number])[] = [
  [110, 1.0, 2.0],
  [132, 1.1, 3.0],
  [150, 1.2, 3.0],
  [220, 1.6, 3.0],
  [275, 1.9, 4.0],
  [380, 2.5, 4.0],
  [480, 3.2, 6.1],
  [700, 5.3, 8.4],
];

/** DIN VDE 0105-100, non-electrical work near live parts: up to this nominal voltage, this far; unknown voltages as the last. */
const VDE_0105: readonly (readonly [number, number])[] = [
  [1, 1],
  [110, 3],
  [220, 4],
  [380, 5],
];

/**
 * What publications say for a line of this voltage (line to line, kV, rms). A voltage between two rows of a table takes
 * the row above, so that the distance is never too small. Publications that do not reach the voltage are left out.
 * @returns largest distance first; empty beyond 800 kV
 */
export function approachDistances(voltageKv: number): ApproachDistance[] {
  const out: ApproachDistance[] = [];
  const range = OSHA_RANGES_KV.find((upper) => voltageKv <= upper);
  if (range !== undefined && voltageKv > 72.5)
    out.push({
      publication: 'OSHA, 29 CFR 1910.269',
      meaning: `minimum approach distance, phase to ground, up to ${range} kV`,
      distanceM: oshaDistanceM(range),
    });
  const zone = EN_50110.find(([nominal]) => voltageKv <= nominal);
  if (zone)
    out.push({
      publication: 'EN 50110-1, table A.1',
      meaning: `outer limit of the vicinity zone, ${zone[0]} kV (danger zone ${zone[1].toFixed(1)} m)`,
      distanceM: zone[2],
    });
  const work = VDE_0105.find(([nominal]) => voltageKv <= nominal);
  if (work)
    out.push({
      publication: 'DIN VDE 0105-100',
      meaning: `non-electrical work, up to ${work[0]} kV`,
      distanceM: work[1],
    });
  return out.sort((a, b) => b.distanceM - a.distanceM);
}
