import type { DischargeRecord } from '../../campaign/records.ts';
import { estimatePhotonRate, type RateConditions, type RateObservation } from '../../grade/estimatePhotonRate.ts';
import { attribute } from '../../place/attribute.ts';
import type { Discharge } from '../../place/Discharge.ts';
import type { Sighting } from '../../sighting/Sighting.ts';
import { asMountedOf } from './asMountedOf.ts';
import type { Findings } from './composeResult.ts';
import { countSource, type EventsByFrame, type Stretch } from './countSource.ts';
import { countWithMissed, missedPasses } from './missedPasses.ts';
import { offsetOfPass } from './offsetOfPass.ts';

/** The passes that found each discharge, and how far from its projected place they show it. */
export function stretchesOfDischarges(
  { gathering, rays, events, poses, inspection }: Findings,
  sightingOf: ReadonlyMap<string, Sighting>,
): ReadonlyMap<string, readonly Stretch[]> {
  const lens = inspection.registration.model.uv;
  return new Map(
    gathering.discharges.map(({ id, sightingIds, placement }) => [
      id,
      sightingIds
        .flatMap((sighting) => sightingOf.get(sighting) ?? [])
        .map((sighting) => ({
          fromNs: sighting.fromNs,
          toNs: sighting.toNs,
          offsetPx: offsetOfPass(sighting, rays, events, poses, lens, placement.positionEnuM),
        })),
    ]),
  );
}

/** A discharge with its rate and its component; null where no frame shows it clear of the image border. */
export function dischargeRecord(
  id: string,
  discharge: Discharge,
  stretches: ReadonlyMap<string, readonly Stretch[]>,
  found: Findings,
  byFrame: EventsByFrame,
  conditions: Omit<RateConditions, 'rangeSigmaM'>,
  backgroundPerPx: number,
): DischargeRecord | null {
  const { inspection, poses, single } = found;
  const { placement } = discharge;
  const lens = inspection.registration.model.uv;
  const count = (stretches: readonly Stretch[]): RateObservation | null =>
    countSource(
      byFrame,
      (f) => inspection.flight.uvIndex[f].gain,
      placement.positionEnuM,
      stretches,
      poses,
      lens,
      Math.hypot(inspection.rig.cameras.uv.blurSigmaPx, 0.5),
      backgroundPerPx,
      single,
      { share: found.finder?.afterglowShare ?? 0, spotSigmaPx: inspection.rig.cameras.uv.spotSigmaPx },
      found.gathering.discharges
        .filter((other) => other.id !== discharge.id)
        .map((other) => other.placement.positionEnuM),
      inspection.pointResponse,
    );
  const own = stretches.get(discharge.id) ?? [];
  const others = [...stretches].flatMap(([other, list]) => (other === discharge.id ? [] : list));
  const observation = countWithMissed(count, own, missedPasses(placement.positionEnuM, own, poses, lens, others));
  if (!observation) {
    found.watch.note(`${id} is never clear of the image border and has no photon rate; its sightings are kept.`);
    return null;
  }
  const c = placement.covarianceEnuM2;
  return {
    id,
    positionLlh: inspection.frame.llhFromEnu(placement.positionEnuM),
    positionEnuM: placement.positionEnuM,
    covarianceEnuM2: c,
    systematicCovarianceEnuM2: placement.systematicCovarianceEnuM2,
    rays: placement.rays,
    passes: discharge.passes,
    normalisedRms: placement.normalisedRms,
    nearestRangeM: placement.nearestRangeM,
    crossingDeg: placement.crossingDeg,
    heldByLine: placement.heldByLine,
    rate: estimatePhotonRate(observation, { ...conditions, rangeSigmaM: Math.sqrt((c[0] + c[4] + c[8]) / 3) }),
    attribution: attribute(placement, inspection.line),
    ...asMountedOf(discharge, inspection.frame),
  };
}
