import { expect, test } from 'vitest';
import { packedJson, unpackedJson } from '../../campaign/packedJson.ts';
import type { DischargeRecord, FlightPlacing } from '../../campaign/records.ts';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { DEFAULT_RULES } from '../../grade/RuleTable.ts';
import type { LineModel } from '../../line/LineModel.ts';
import { trace } from '../../maths/mat3.ts';
import { randomFrom } from '../../maths/random.ts';
import { distance, type Vec3 } from '../../maths/vec3.ts';
import { gatherDischarges, type SightingToPlace } from '../../place/gatherDischarges.ts';
import { drawPass, drawRig, ERRORS, flyPass, type PassPlan } from '../../place/inventedPass.testdata.ts';
import { placingMaterial } from '../../place/placingMaterial.ts';
import { findingRecord } from './findingRecord.ts';
import { joinFlights } from './joinFlights.ts';

const FRAME = localFrameAt([-31.8, 44.3, 80]);
const LINE: LineModel = { name: 'l', owner: 'o', voltageKv: 220, structures: [], components: [] };
const CAMPAIGN = { line: LINE, rules: DEFAULT_RULES, frame: FRAME };
const CONDITIONS: FlightPlacing['conditions'] = {
  temperatureC: 11,
  pressureHPa: 1004,
  relativeHumidityPct: 70,
  mainsHz: 50,
  weather: 'dry',
};
const BOTH: Vec3 = [1.3, 0.4, 38.2];
const FIRST_ONLY: Vec3 = [-6.1, 0.2, 35.5];
const PLAN: PassPlan = {
  standoffM: 40,
  speedMps: 15,
  exposureS: 0.018,
  halfAngleDeg: 20,
  events: 80,
  pixelSigmaPx: 0.5,
  way: 1,
  startNs: 0,
};

/** A flight of one pass over some sources, with what it says by itself. */
function flight(
  name: string,
  startUtc: string,
  sources: readonly Vec3[],
  way: 1 | -1,
  rateHz: number,
  seed: number,
): FlightPlacing {
  const random = randomFrom(seed);
  // One rig for all flights, a trajectory for each.
  const rig = drawRig(randomFrom(77));
  const { sightings, rays, poses } = flyPass(sources, { ...PLAN, way }, rig, drawPass(random), random);
  const inputs: SightingToPlace[] = sightings.map((sighting) => ({
    flight: name,
    sighting,
    rays,
    poses,
    errors: ERRORS,
  }));
  const { discharges } = gatherDischarges(inputs);
  return {
    flight: name,
    startUtc,
    conditions: CONDITIONS,
    sightings: inputs.map((input) => placingMaterial(input, `${name}-${input.sighting.id}`)),
    own: discharges.map((d, i) => {
      const record: DischargeRecord = {
        id: `${name}-d${i + 1}`,
        positionLlh: FRAME.llhFromEnu(d.placement.positionEnuM),
        positionEnuM: d.placement.positionEnuM,
        covarianceEnuM2: d.placement.covarianceEnuM2,
        systematicCovarianceEnuM2: d.placement.systematicCovarianceEnuM2,
        rays: d.placement.rays,
        passes: d.passes,
        normalisedRms: d.placement.normalisedRms,
        nearestRangeM: d.placement.nearestRangeM,
        crossingDeg: d.placement.crossingDeg,
        heldByLine: d.placement.heldByLine,
        rate: {
          rateHz,
          countingInterval: { lower: 0.8 * rateHz, upper: 1.2 * rateHz },
          interval: { lower: 0.7 * rateHz, upper: 1.4 * rateHz },
          events: 80,
          overdispersion: 1,
          bandNm: [240, 280],
          budget: [{ name: 'camera efficiency', relativeSigma: 0.1 }],
          notes: [],
        },
        attribution: { candidates: [], restProbability: 1, advice: null },
      };
      return {
        sightingIds: d.sightingIds.map((s) => `${name}-${s}`),
        record,
        finding: findingRecord(record, CAMPAIGN, CONDITIONS),
      };
    }),
  };
}

const early = () => flight('early', '2026-05-12T06:00:00Z', [BOTH, FIRST_ONLY], 1, 1e9, 4);
const late = () => flight('late', '2026-05-13T06:00:00Z', [BOTH], -1, 1.2e9, 5);

test('a discharge seen in two flights is one, called as the first flight called it, and surer than in either', () => {
  const [a, b] = [early(), late()];
  const { discharges, findings, joint } = joinFlights([a, b], CAMPAIGN, {});
  expect(discharges.map((d) => d.id)).toEqual(['early-d1', 'early-d2']);
  expect(findings.map((f) => f.id)).toEqual(['early-d1', 'early-d2']);
  const [both, one] = discharges;
  expect(both.passes).toBe(2);
  expect(joint.renamed['late-d1']).toBe('early-d1');
  expect(joint.homeOf['early-d1']).toBe('early');
  expect(Object.values(joint.dischargeOf).sort()).toEqual(['early-d1', 'early-d1', 'early-d2']);
  for (const alone of [a.own[0].record, b.own[0].record])
    expect(trace(both.covarianceEnuM2)).toBeLessThan(trace(alone.covarianceEnuM2));
  // Within three of its own standard deviations.
  expect(distance(both.positionEnuM, BOTH)).toBeLessThan(3 * Math.sqrt(trace(both.covarianceEnuM2)));
  // Equal events at 1.0 and 1.2 photons a ns: light taken in as 1.2 to 1, and so the mean.
  expect(both.rate.rateHz).toBeCloseTo((2 * 80) / (80 / 1e9 + 80 / 1.2e9), -2);
  // What one flight alone saw stays as that flight said it, to the last bit.
  expect(one).toEqual(a.own[1].record);
});

test('flights joined in either order, and from the file, give the same', () => {
  const [a, b] = [early(), late()];
  const there = joinFlights([a, b], CAMPAIGN, {});
  expect(joinFlights([b, a], CAMPAIGN, {})).toEqual(there);
  const kept = [b, a].map((placing) => unpackedJson<FlightPlacing>(packedJson(placing)));
  expect(joinFlights(kept, CAMPAIGN, {})).toEqual(there);
});

test('a sighting cut out of its flight is placed where its flight placed it', () => {
  const random = randomFrom(9);
  const { sightings, rays, poses } = flyPass([BOTH, FIRST_ONLY], PLAN, drawRig(random), drawPass(random), random);
  const whole = { flight: 'f', sighting: sightings[1], rays, poses, errors: ERRORS };
  const [a] = gatherDischarges([whole]).discharges;
  const [b] = gatherDischarges([placingMaterial(whole, 'cut')]).discharges;
  expect(b.placement).toEqual(a.placement);
});
