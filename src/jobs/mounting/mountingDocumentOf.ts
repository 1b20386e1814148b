import { degFromRad } from '../../maths/angle.ts';
import type { MountingEstimate } from '../../place/mounting/estimateMounting.ts';
import { MOUNTING_PARAMETERS } from '../../place/mounting/MountingParameters.ts';
import type { FlightViews } from '../../place/mounting/viewsOfFlight.ts';
import type { Mounting } from '../../rig/Mounting.ts';
import type { MountingDocument } from '../../rig/mountingFile.ts';
import { SOFTWARE } from '../software.ts';

type Estimated = Extract<MountingEstimate, { kind: 'estimated' }>;

/** The mounting file that an estimate makes. */
export function mountingDocumentOf(
  estimate: Estimated,
  seen: FlightViews,
  nominal: Mounting,
  rigId: string,
  inputs: Omit<MountingDocument['provenance'], 'software'>,
): MountingDocument {
  const { mounting, asRegistered, heldOut, flown } = estimate;
  return {
    format: 'corposant-mounting',
    version: 1,
    rigId,
    bodyFromUv: {
      rotation: [...mounting.bodyFromUv.rotation],
      translation: [...mounting.bodyFromUv.translation],
    },
    timeOffsetNs: mounting.timeOffsetNs,
    covariance: Array.from(mounting.jointCovariance ?? []),
    withRegistration: {
      hash: inputs.registrationHash,
      bodyFromUv: {
        rotation: [...asRegistered.bodyFromUv.rotation],
        translation: [...asRegistered.bodyFromUv.translation],
      },
      timeOffsetNs: asRegistered.timeOffsetNs,
      covariance: Array.from(asRegistered.jointCovariance ?? []),
    },
    parameters: MOUNTING_PARAMETERS.map((_, i) => parameterRow(estimate, nominal, i)),
    check: heldOut
      ? { leftOut: heldOut.by, improves: heldOut.improves, parts: heldOut.parts.map((part) => ({ ...part })) }
      : null,
    accepted: estimate.accepted,
    statistics: {
      passes: flown.passes,
      lights: seen.points.length,
      surveyedLights: flown.surveyedPoints,
      views: estimate.views,
      rays: estimate.rays,
      normalisedRms: estimate.normalisedRms,
      widenedBy: estimate.widenedBy,
      leftOut: [...seen.leftOut].map(([because, sightings]) => ({ because, sightings })),
    },
    provenance: { software: SOFTWARE, ...inputs },
  };
}

/** Boresight is told as a correction, in degrees; lever arm and time offset as they are. */
function parameterRow(estimate: Estimated, nominal: Mounting, i: number): MountingDocument['parameters'][number] {
  const factor = i < 3 ? degFromRad(1) : i < 6 ? 1 : 1000;
  const begin = i < 3 ? 0 : i < 6 ? nominal.bodyFromUv.translation[i - 3] : nominal.timeOffsetNs * 1e-6;
  const told = estimate.separability.get(i);
  return {
    name: MOUNTING_PARAMETERS[i],
    unit: i < 3 ? 'deg' : i < 6 ? 'm' : 'ms',
    nominal: begin,
    estimate: begin + estimate.correction[i] * factor,
    sigma: Math.sqrt(estimate.covariance.get(i, i)) * factor,
    priorSigma: told?.priorSigma == null ? null : told.priorSigma * factor,
    held: told === undefined,
    verdict: told?.verdict ?? 'held',
    mostCorrelatedWith: told?.mostCorrelated.with ?? '',
    correlation: told?.mostCorrelated.correlation ?? 0,
    limits: (told?.limits ?? []).slice(0, 5).map((limit) => ({ ...limit })),
    advice: [...(told?.advice ?? [])],
  };
}
