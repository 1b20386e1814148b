import type { InspectionSettings } from '../../campaign/records.ts';
import type { MountingCorrection } from '../../place/MountingCorrection.ts';
import { mountingCorrectionSettings } from './mountingCorrectionText.ts';
import type { Inspection } from './openInspection.ts';

/** What the flight is inspected with, in full, so that "why is this here?" needs no other file than the campaign. */
export function settingsOfInspection(
  { registration, registrationIsNominal, mounting, parameters, rules, rig }: Inspection,
  correction: MountingCorrection,
  events: Pick<InspectionSettings, 'eventsFile' | 'eventsHash'>,
): InspectionSettings {
  const diagonal = (m: readonly number[]): number[] => [m[0], m[4], m[8]].map(Math.sqrt);
  return {
    ...events,
    parameters,
    rules,
    registration: {
      hash: registration.hash,
      nominal: registrationIsNominal,
      model: registration.model.kind,
      heldOutRmsPx: registration.heldOutRmsPx,
      nearestM: registration.support.nearestM,
      // Without a bench run the support has no far end; JSON knows no infinity.
      ...(Number.isFinite(registration.support.farthestM) ? { farthestM: registration.support.farthestM } : {}),
    },
    mounting: {
      rig: rig.id,
      source: typeof parameters.mounting === 'string' ? `mounting file ${parameters.mounting}` : 'as the rig states',
      bodyFromUvRotation: [...mounting.bodyFromUv.rotation],
      leverArmM: [...mounting.bodyFromUv.translation],
      leverArmSigmaM: diagonal(mounting.leverArmCovarianceM2),
      boresightSigmaRad: diagonal(mounting.boresightCovarianceRad2),
      timeOffsetMs: mounting.timeOffsetNs * 1e-6,
      timeOffsetSigmaMs: mounting.timeOffsetSigmaNs * 1e-6,
      ...mountingCorrectionSettings(correction),
    },
  };
}
