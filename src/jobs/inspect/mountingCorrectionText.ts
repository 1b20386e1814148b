import { degFromRad } from '../../maths/angle.ts';
import type { CorrectionGrounds, MountingCorrection } from '../../place/MountingCorrection.ts';

/** What the discharges said of boresight and time offset and what was made of it, in a sentence or two. */
export function mountingCorrectionText(correction: MountingCorrection): string {
  if (correction.kind === 'adopted')
    return `adopted, ${figures(correction)}; each position as mounted is kept beside the corrected one, and inspect --as-mounted leaves it at that`;
  const { because, oppositeDischarges, grounds } = correction;
  const seen = `${oppositeDischarges} ${oppositeDischarges === 1 ? 'discharge' : 'discharges'} seen from opposite sides`;
  return `none, positions stand as mounted: ${because} (${grounds ? `${figures(grounds)}; ` : ''}${seen})`;
}

function figures({ shifts, heldOutRmsBefore, heldOutRmsAfter, chiSquare, freedom }: CorrectionGrounds): string {
  const rigs = shifts.map(({ boresightRad, boresightSigmaRad, timeOffsetS, timeOffsetSigmaS }) => {
    const axes = ['roll', 'pitch', 'heading'].map(
      (axis, i) =>
        `${axis} ${signed(degFromRad(boresightRad[i]), 3)} ± ${degFromRad(boresightSigmaRad[i]).toFixed(3)}°`,
    );
    return `boresight ${axes.join(', ')}, time ${signed(1e3 * timeOffsetS, 2)} ± ${(1e3 * timeOffsetSigmaS).toFixed(2)} ms`;
  });
  return `${rigs.join('; another rig ')}; chi-square ${chiSquare.toFixed(1)} of ${freedom}, sightings held out disagree by ${heldOutRmsAfter.toFixed(2)} sigma with it and ${heldOutRmsBefore.toFixed(2)} without`;
}

const signed = (value: number, digits: number): string => `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(digits)}`;

/** The same as figures, for the settings that an inspection keeps. */
export function mountingCorrectionSettings(
  correction: MountingCorrection,
): Readonly<Record<string, string | number | readonly number[]>> {
  const grounds = correction.kind === 'adopted' ? correction : correction.grounds;
  return {
    correction: correction.kind === 'adopted' ? 'adopted' : `none: ${correction.because}`,
    correctionOppositeDischarges: correction.oppositeDischarges,
    ...(grounds
      ? {
          correctionBoresightRad: grounds.shifts.flatMap((shift) => shift.boresightRad),
          correctionBoresightSigmaRad: grounds.shifts.flatMap((shift) => shift.boresightSigmaRad),
          correctionTimeOffsetMs: grounds.shifts.map((shift) => 1e3 * shift.timeOffsetS),
          correctionTimeOffsetSigmaMs: grounds.shifts.map((shift) => 1e3 * shift.timeOffsetSigmaS),
          correctionChiSquare: grounds.chiSquare,
          correctionFreedom: grounds.freedom,
          correctionHeldOutRmsBefore: grounds.heldOutRmsBefore,
          correctionHeldOutRmsAfter: grounds.heldOutRmsAfter,
        }
      : {}),
  };
}
