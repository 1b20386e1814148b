/**
 * Two campaigns of one line, drawn event by event without pictures: discharges that stay, grow, fade, come and go, what either
 * year counted of them, and what it would have found. All expected counts are worked out here, from optics and air alone.
 */
import type { ComparedCampaign, ComparedFinding, Limit } from '../../src/grade/change/ComparedFinding.ts';
import { estimatePhotonRate, type RateConditions, type RateObservation } from '../../src/grade/estimatePhotonRate.ts';
import { diagonal3 } from '../../src/maths/mat3.ts';
import type { Random } from '../../src/maths/random.ts';
import type { Vec3 } from '../../src/maths/vec3.ts';

/** What may have become of a discharge: the factor on its light, from nothing to nothing included. */
export type Fate = number | 'new' | 'gone';

export interface TrueDischarge {
  readonly id: string;
  readonly fate: Fate;
  /** Mean events of the fainter year's better pass, had the discharge been there in both. */
  readonly expectedEvents: number;
}

export interface TwoYears {
  readonly earlier: ComparedCampaign;
  readonly later: ComparedCampaign;
  readonly truth: readonly TrueDischarge[];
}

const DISCHARGES = 40;
/** Two on each tower, on a string and its ring. */
const SPACING_M = 300;
const APART_M = 1.2;
const FATES: readonly Fate[] = ['new', 'gone', 0.1, 0.2, 1 / 3, 0.5, 2, 3, 5, 10];
/** Half of them have not changed. */
const UNCHANGED_SHARE = 0.5;
const NOT_SEEN_SHARE = 0.05;
const FRAMES = 120;
const EXPOSURE_S = 0.018;
const BACKGROUND_PER_FRAME = 0.02;
/** Variance of the brightness from a fifth of a second to the next, relative. */
const FLICKER = 0.3;
const PULSE_SPREAD2 = 0.64;
const SINGLE_CHARGE_DN = 210;
/** A pass finds what gives it 7 events; 12 in the mean do so with 95.4 % (Poisson). */
const NEEDED_EVENTS = 7;
const EVENTS_AT_LIMIT = 12;
const APERTURE_MM = 25;
const EVENTS_PER_PHOTON = 0.05;
const SIGMAS = { efficiency: 0.1, ageing: 0.05, airPerKm: 0.6, rangeM: 0.3, positionM: 0.08 } as const;
const AIR_PER_KM = 1.46;
/** How far hardware hangs elsewhere a year on, level and upright. */
const MOVED_M = [0.1, 0.1, 0.03] as const;

const CONDITIONS: RateConditions = {
  apertureMm: APERTURE_MM,
  bandNm: [240, 280],
  eventsPerPhoton: EVENTS_PER_PHOTON,
  eventsPerPhotonRelativeSigma: SIGMAS.efficiency,
  extinctionPerKm: AIR_PER_KM,
  extinctionSigmaPerKm: SIGMAS.airPerKm,
  rangeSigmaM: SIGMAS.rangeM,
  singleChargeRelativeSigma: 0.03,
  mainsHz: 50,
  // Off the mains' own rhythm, so that its phase is run through.
  frameRateHz: 47,
};

/** One year's truth beside the discharges: what camera and air were like. */
interface Year {
  readonly efficiency: number;
  readonly airPerKm: number;
}

/** Events a frame for one photon a second into all directions. */
const eventsAt = (rangeM: number, { efficiency, airPerKm }: Year): number =>
  ((EXPOSURE_S * (APERTURE_MM / 2000) ** 2) / (4 * rangeM ** 2)) * efficiency * Math.exp((-airPerKm * rangeM) / 1000);

const rangesOf = (nearestM: number): number[] =>
  Array.from({ length: FRAMES }, (_, i) => Math.hypot(nearestM, -12 + (24 * i) / FRAMES));

/** @param dayToDaySigma how much one and the same discharge differs from day to day, 1 sigma of the logarithm */
export function drawTwoYears(random: Random, dayToDaySigma: number): TwoYears {
  const efficiency = EVENTS_PER_PHOTON * Math.exp(SIGMAS.efficiency * random.normal());
  const year = (aged: number): Year => ({
    efficiency: efficiency * aged,
    airPerKm: Math.max(0.3, AIR_PER_KM + SIGMAS.airPerKm * random.normal()),
  });
  const years = [year(1), year(Math.exp(SIGMAS.ageing * random.normal()))] as const;
  const seen = [new Map<string, Limit>(), new Map<string, Limit>()] as const;
  const found: [ComparedFinding[], ComparedFinding[]] = [[], []];
  const truth: TrueDischarge[] = [];
  for (let i = 0; i < DISCHARGES; i++) {
    const id = `x${i}`;
    const fate = random.uniform() < UNCHANGED_SHARE ? 1 : FATES[Math.floor(random.uniform() * FATES.length)];
    const placeEnuM: Vec3 = [SPACING_M * Math.floor(i / 2), APART_M * (i % 2), 30];
    const brighterHz = 10 ** (10 + 2.2 * random.uniform());
    const change = typeof fate === 'number' ? fate : 1;
    const daily = [0, 1].map(() => Math.exp((dayToDaySigma / Math.SQRT2) * random.normal()));
    const lightHz = [brighterHz / Math.max(1, change), brighterHz * Math.min(1, change)].map((hz, k) => hz * daily[k]);
    const expected = [0, 1].map((k) => {
      const passes = Array.from({ length: 1 + Math.floor(2 * random.uniform()) }, () => 32 + 30 * random.uniform());
      const isThere = fate !== (k === 0 ? 'new' : 'gone');
      const componentId = `C${i}`;
      if (random.uniform() < NOT_SEEN_SHARE) {
        seen[k].set(componentId, { kind: 'not seen' });
        return Number.POSITIVE_INFINITY;
      }
      const grasps = passes.map((m) => rangesOf(m).reduce((sum, r) => sum + eventsAt(r, years[k]), 0));
      const nominal = passes.map((m) =>
        rangesOf(m).reduce((sum, r) => sum + eventsAt(r, { efficiency: EVENTS_PER_PHOTON, airPerKm: AIR_PER_KM }), 0),
      );
      seen[k].set(componentId, { kind: 'limit', limitHz: EVENTS_AT_LIMIT / Math.max(...nominal) });
      const watched = isThere ? watch(random, lightHz[k], passes, years[k]) : null;
      if (watched !== null && watched.mostInAPass >= NEEDED_EVENTS)
        found[k].push(findingOf(random, id, componentId, placeEnuM, k, watched.observation));
      return lightHz[k] * Math.max(...grasps);
    });
    truth.push({ id, fate, expectedEvents: Math.min(...expected) });
  }
  const campaign = (k: 0 | 1): ComparedCampaign => ({
    findings: found[k],
    limitAt: (componentId) => seen[k].get(componentId ?? '') ?? { kind: 'unknown' },
    keptOut: [],
    weather: 'dry',
  });
  return { earlier: campaign(0), later: campaign(1), truth };
}

/** What the camera counts of a flickering discharge over its passes; ranges are taken a little wrong, one error a year. */
function watch(
  random: Random,
  lightHz: number,
  passes: readonly number[],
  year: Year,
): { observation: RateObservation; mostInAPass: number } {
  const n = FRAMES * passes.length;
  const observation = {
    counts: new Float64Array(n),
    charge: new Float64Array(n),
    background: new Float64Array(n).fill(BACKGROUND_PER_FRAME),
    singleCharge: SINGLE_CHARGE_DN,
    singleChargeSpread2: PULSE_SPREAD2,
    rangeM: new Float64Array(n),
    exposureS: new Float64Array(n).fill(EXPOSURE_S),
    tNs: Float64Array.from({ length: n }, (_, i) => (i * 1e9) / CONDITIONS.frameRateHz),
  };
  const rangeErrorM = SIGMAS.rangeM * random.normal();
  let mostInAPass = 0;
  passes.forEach((nearestM, pass) => {
    let own = 0;
    let brightness = 1;
    rangesOf(nearestM).forEach((rangeM, j) => {
      if (j % 10 === 0) brightness = random.gamma(1 / FLICKER) * FLICKER;
      const row = pass * FRAMES + j;
      const photons = random.poisson(lightHz * eventsAt(rangeM, year) * brightness);
      const all = photons + random.poisson(BACKGROUND_PER_FRAME);
      own += photons;
      observation.counts[row] = all;
      observation.charge[row] = all > 0 ? random.gamma(all / PULSE_SPREAD2) * PULSE_SPREAD2 * SINGLE_CHARGE_DN : 0;
      observation.rangeM[row] = rangeM + rangeErrorM;
    });
    mostInAPass = Math.max(mostInAPass, own);
  });
  return { observation, mostInAPass };
}

function findingOf(
  random: Random,
  id: string,
  componentId: string,
  trueEnuM: Vec3,
  year: number,
  observation: RateObservation,
): ComparedFinding {
  const positionEnuM = trueEnuM.map(
    (x, axis) => x + SIGMAS.positionM * random.normal() + (year === 1 ? MOVED_M[axis] * random.normal() : 0),
  ) as unknown as Vec3;
  return {
    id,
    positionEnuM,
    covarianceEnuM2: diagonal3(SIGMAS.positionM ** 2, SIGMAS.positionM ** 2, SIGMAS.positionM ** 2),
    componentId,
    componentKind: 'insulator string',
    alongEnu: null,
    candidates: [{ componentId, probability: 0.9 }],
    rate: estimatePhotonRate(observation, CONDITIONS),
    weather: 'dry',
    rigHash: 'one rig',
    rejected: false,
  };
}
