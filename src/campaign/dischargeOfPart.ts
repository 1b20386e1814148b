import type { LocalFrame } from '../earth/LocalFrame.ts';
import type { LineModel } from '../line/LineModel.ts';
import { addMat, type Mat3, scaleMat } from '../maths/mat3.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { attribute } from '../place/attribute.ts';
import type { DischargeRecord, SightingRecord } from './records.ts';
import type { DischargeOfPart } from './replayReview.ts';

/**
 * What can be said of a part of a discharge's sightings without its flight: its place is where their rays cross, weighted by
 * events; the random part of the covariance grows as there are fewer events, the systematic part stays; the rate goes with events
 * per frame. Rougher than placing the rays anew, and the notes say so. Components are weighed anew at the new place; the grade is
 * that of the whole.
 */
export function dischargesOfParts(line: LineModel, frame: LocalFrame): DischargeOfPart {
  return (whole, part, id) => {
    const { discharge, finding, sightings } = whole;
    const share = eventsOf(part) / eventsOf(sightings);
    const positionEnuM = meanPlace(part, frame);
    const random = addMat(discharge.covarianceEnuM2, scaleMat(discharge.systematicCovarianceEnuM2, -1));
    const covarianceEnuM2: Mat3 = addMat(scaleMat(random, 1 / share), discharge.systematicCovarianceEnuM2);
    const attribution = attribute(
      {
        kind: 'placed',
        positionEnuM,
        covarianceEnuM2,
        randomCovarianceEnuM2: scaleMat(random, 1 / share),
        systematicCovarianceEnuM2: discharge.systematicCovarianceEnuM2,
        rays: Math.round(discharge.rays * share),
        normalisedRms: discharge.normalisedRms,
        nearestRangeM: discharge.nearestRangeM,
        crossingDeg: discharge.crossingDeg,
        heldByLine: discharge.heldByLine,
      },
      line,
    );
    const [best] = attribution.candidates;
    return {
      finding: { ...finding, id, componentId: best?.componentId ?? null, componentProbability: best?.probability ?? 0 },
      discharge: {
        ...discharge,
        id,
        positionEnuM,
        positionLlh: frame.llhFromEnu(positionEnuM),
        covarianceEnuM2,
        rays: Math.round(discharge.rays * share),
        passes: part.length,
        rate: rateOfPart(discharge, sightings, part),
        attribution,
      },
    };
  };
}

const eventsOf = (sightings: readonly SightingRecord[]): number => sightings.reduce((sum, one) => sum + one.events, 0);
const framesOf = (sightings: readonly SightingRecord[]): number =>
  sightings.reduce((sum, one) => sum + one.framesInView, 0);

function meanPlace(part: readonly SightingRecord[], frame: LocalFrame): Vec3 {
  const total = eventsOf(part);
  const sum: [number, number, number] = [0, 0, 0];
  for (const { seedLlh, events } of part)
    frame.enuFromLlh(seedLlh).forEach((x, axis) => {
      sum[axis] += (events * x) / total;
    });
  return sum;
}

/** The whole's rate by events per frame; the counting interval widens as the root of the events falls. */
function rateOfPart(
  { rate }: DischargeRecord,
  whole: readonly SightingRecord[],
  part: readonly SightingRecord[],
): DischargeRecord['rate'] {
  const perFrame = eventsOf(part) / framesOf(part) / (eventsOf(whole) / framesOf(whole));
  const wider = Math.sqrt(eventsOf(whole) / eventsOf(part));
  const rateHz = rate.rateHz * perFrame;
  const scaled = ({ lower, upper }: { lower: number; upper: number }) => ({
    lower: Math.max(0, rateHz - perFrame * wider * (rate.rateHz - lower)),
    upper: rateHz + perFrame * wider * (upper - rate.rateHz),
  });
  return {
    ...rate,
    rateHz,
    countingInterval: scaled(rate.countingInterval),
    interval: scaled(rate.interval),
    events: (rate.events * eventsOf(part)) / eventsOf(whole),
    notes: [
      ...rate.notes,
      'Of a part of the sightings, as a reviewer divided them: place and rate are estimates from those, not measured anew.',
    ],
  };
}
