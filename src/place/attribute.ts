import { distanceToComponent } from '../line/distanceToComponent.ts';
import type { LineComponent, LineModel } from '../line/LineModel.ts';
import { normalCdf } from '../maths/distributions.ts';
import { addMat, diagonal3, type Mat3, quadraticForm } from '../maths/mat3.ts';
import { norm, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import type { Attribution, Candidate } from './Attribution.ts';
import { KIND_PRIORS, type KindPrior, NONE_PER_M3 } from './attributionPriors.ts';
import {
  type AxisDensity,
  type AxisLikelihood,
  axisLengthM,
  axisLikelihood,
  circleLikelihood,
  pointOnAxis,
} from './axis.ts';
import { errorEllipsoid } from './errorEllipsoid.ts';
import type { Placed } from './placeSighting.ts';

export interface AttributionPriors {
  readonly kinds: Readonly<Record<LineComponent['kind'], KindPrior>>;
  readonly nonePerM3: number;
}

export const DEFAULT_PRIORS: AttributionPriors = { kinds: KIND_PRIORS, nonePerM3: NONE_PER_M3 };

/** Candidates below this share are summed up in `restProbability`. */
const LEAST_SHOWN = 0.001;
/** A best candidate below this gets advice on what would settle it. */
const SURE = 0.95;
/** A ring whose middle is farther than this from the axis of every string hangs about none. */
const RING_OFF_STRING_M = 0.5;
/** A disc is named where it is the right one with at least this probability: one sigma of half a pitch. */
const DISC_SURE = 0.68;

interface Weighed {
  readonly component: LineComponent | null;
  readonly weight: number;
  readonly meanM: number;
  readonly sigmaM: number;
}

/**
 * What a discharge sits on: posterior over the components of the line and none of them, by Bayes' rule with discharges
 * as a Poisson process in space: each component (each metre of wire) has an expected number, and space around the line a
 * density for what the model does not hold. The likelihood is the placement's Gaussian, widened by the component's own
 * uncertainty and spread over its axis and surface; what the line lent to the depth is not used again.
 * Probabilities are calibrated as far as the priors are.
 */
export function attribute(placement: Placed, line: LineModel, priors: AttributionPriors = DEFAULT_PRIORS): Attribution {
  const observed = placement.withoutLine ?? placement;
  const place = observed.positionEnuM;
  const weighed: Weighed[] = [{ component: null, weight: priors.nonePerM3, meanM: 0, sigmaM: 0 }];
  for (const component of line.components) {
    if (!withinReach(component, place, observed.covarianceEnuM2)) continue;
    const found = likelihoodOf(component, priors.kinds[component.kind], line, observed);
    if (found.likelihoodPerM3 > 0)
      weighed.push({ component, weight: found.likelihoodPerM3, meanM: found.meanM, sigmaM: found.sigmaM });
  }
  const total = weighed.reduce((sum, w) => sum + w.weight, 0);
  const ranked = weighed
    .map((w) => ({ ...w, probability: w.weight / total }))
    .sort((a, b) => b.probability - a.probability || compareIds(a.component, b.component));
  const shown = ranked.filter((w) => w.probability >= LEAST_SHOWN);
  const candidates = shown.map((w) => candidateOf(w, w.probability, placement.positionEnuM));
  const shownSum = candidates.reduce((sum, c) => sum + c.probability, 0);
  return {
    candidates,
    restProbability: Math.max(0, 1 - shownSum),
    advice: ranked[0].probability < SURE ? adviceFor(ranked, placement) : null,
  };
}

/** A ring without length lies about the string that it belongs to; where none is near, it is taken as a ball. */
function likelihoodOf(
  component: LineComponent,
  prior: KindPrior,
  line: LineModel,
  observed: Pick<Placed, 'positionEnuM' | 'covarianceEnuM2'>,
): AxisLikelihood {
  const { axisEnuM, sigmaM, radiusM } = component;
  const place = observed.positionEnuM;
  const spread = addMat(observed.covarianceEnuM2, diagonal3(sigmaM ** 2, sigmaM ** 2, sigmaM ** 2));
  const about = component.kind === 'ring' && axisLengthM(axisEnuM) <= 0 ? stringThrough(component, line) : null;
  if (!about) return axisLikelihood(axisEnuM, densitiesOf(component, prior), place, spread, radiusM);
  return {
    likelihoodPerM3: prior.expected * circleLikelihood(axisEnuM[0], about, radiusM, place, spread),
    meanM: 0,
    sigmaM: 0,
  };
}

/** The direction of the string that a ring hangs about. */
function stringThrough(ring: LineComponent, line: LineModel): Vec3 | null {
  const own = line.components.find(
    (c) =>
      c.kind === 'insulator string' &&
      c.circuit === ring.circuit &&
      c.phase === ring.phase &&
      c.structureIds.some((id) => ring.structureIds.includes(id)) &&
      axisLengthM(c.axisEnuM) > 0 &&
      distanceToComponent(ring.axisEnuM[0], c).axisDistanceM < RING_OFF_STRING_M,
  );
  return own ? unit(subtract(own.axisEnuM[own.axisEnuM.length - 1], own.axisEnuM[0])) : null;
}

const compareIds = (a: LineComponent | null, b: LineComponent | null): number => {
  const [x, y] = [a?.id ?? '', b?.id ?? ''];
  return x < y ? -1 : x > y ? 1 : 0;
};

/** Skips what lies beyond eight sigma of everything: its likelihood is nil. */
function withinReach(component: LineComponent, place: Vec3, covariance: Mat3): boolean {
  const sigma = Math.sqrt(covariance[0] + covariance[4] + covariance[8] + 3 * component.sigmaM ** 2);
  return distanceToComponent(place, component).axisDistanceM < 8 * sigma + component.radiusM;
}

function densitiesOf(component: LineComponent, prior: KindPrior): AxisDensity[] {
  const length = axisLengthM(component.axisEnuM);
  if (length <= 0) return [{ fromM: 0, toM: 0, perM: prior.expected }];
  if (prior.per === 'metre') return [{ fromM: 0, toM: length, perM: prior.expected }];
  const end = Math.min(prior.endLengthM, length / 2);
  const densities: AxisDensity[] = [{ fromM: 0, toM: length, perM: (prior.expected * (1 - prior.endShare)) / length }];
  if (prior.endShare > 0 && end > 0) {
    const perM = (prior.expected * prior.endShare) / (2 * end);
    densities.push({ fromM: 0, toM: end, perM }, { fromM: length - end, toM: length, perM });
  }
  return densities;
}

function candidateOf({ component, meanM, sigmaM }: Weighed, probability: number, place: Vec3): Candidate {
  if (!component) return { componentId: null, probability, distanceM: 0, along: 0, disc: null };
  const length = axisLengthM(component.axisEnuM);
  return {
    componentId: component.id,
    probability,
    distanceM: distanceToComponent(place, component).distanceM,
    along: length > 0 ? meanM / length : 0,
    disc: discAt(component.discs, length, meanM, sigmaM),
  };
}

/** Pitches of cap-and-pin discs, metres: 146 mm up to 120 kN, 170 mm and 195 mm above. Source: IEC 60305 (from memory). */
const DISC_PITCHES_M = [0.146, 0.17, 0.195] as const;
/** What the fittings of a string add to its discs: 0.3 to 0.8 m (common practice, no source). */
const USUAL_FITTINGS_M = 0.5;
const MOST_FITTINGS_M = 1;
/** How unevenly the fittings may share the two ends, one sigma. */
const FITTING_SIGMA_M = 0.03;

/**
 * Where the discs of a string lie on its axis: in its middle at the standard pitch that leaves the most usual length for the
 * fittings, or evenly over all of it where none leaves a sensible one. The first is at the start, the cross-arm.
 */
export function discLayout(discs: number, lengthM: number): { firstM: number; pitchM: number } {
  const fittings = (pitch: number): number => lengthM - discs * pitch;
  const usual = DISC_PITCHES_M.filter((p) => fittings(p) >= 0 && fittings(p) <= MOST_FITTINGS_M).sort(
    (a, b) => Math.abs(fittings(a) - USUAL_FITTINGS_M) - Math.abs(fittings(b) - USUAL_FITTINGS_M),
  )[0];
  const pitchM = usual ?? lengthM / discs;
  return { firstM: (lengthM - discs * pitchM) / 2, pitchM };
}

function discAt(discs: number, lengthM: number, meanM: number, sigmaM: number): number | null {
  if (discs < 1 || lengthM <= 0) return null;
  const { firstM, pitchM } = discLayout(discs, lengthM);
  const disc = Math.floor((meanM - firstM) / pitchM) + 1;
  if (disc < 1 || disc > discs) return null;
  const sigma = Math.hypot(sigmaM, FITTING_SIGMA_M);
  const upTo = (edge: number): number => normalCdf((firstM + edge * pitchM - meanM) / sigma);
  return upTo(disc) - upTo(disc - 1) >= DISC_SURE ? disc : null;
}

/** In which direction the doubt lies, and what would remove it. */
function adviceFor(ranked: readonly (Weighed & { probability: number })[], placement: Placed): string {
  const [best, second] = ranked;
  if (!best.component || !second.component) {
    const known = best.component ?? second?.component;
    return known
      ? `The place fits ${known.id} only in part: look at the pictures for hardware that the line model does not hold, and check the line model there.`
      : 'Nothing of the line model lies here: look at the pictures, and check the line model.';
  }
  const between = subtract(placeOf(best, best.component), placeOf(second, second.component));
  const apartM = norm(between);
  const pair = `${best.component.id} and ${second.component.id}`;
  if (apartM < 0.05)
    return `${pair} touch where the discharge lies: no pass from the air tells them apart; look from close by.`;
  const direction = unit(between);
  const sigmaM = Math.sqrt(quadraticForm((placement.withoutLine ?? placement).covarianceEnuM2, direction));
  const lineSigmaM = Math.max(best.component.sigmaM, second.component.sigmaM);
  const doubt = `${pair} lie ${apartM.toFixed(1)} m apart, where the position is uncertain by ${sigmaM.toFixed(2)} m and the line model by ${lineSigmaM.toFixed(2)} m (1 sigma)`;
  if (lineSigmaM > sigmaM) return `${doubt}: a survey of these components would settle it.`;
  const long = errorEllipsoid(placement.covarianceEnuM2).axesEnu[0];
  // A view at right angles to the long axis measures along it.
  const seenFrom = Math.hypot(long[0], long[1]) < 0.3 ? 'from another height' : squareTo(long);
  return `${doubt}: another pass ${seenFrom}, at right angles to the present view, would settle it.`;
}

function placeOf({ meanM }: Weighed, component: LineComponent): Vec3 {
  const length = axisLengthM(component.axisEnuM);
  return pointOnAxis(component.axisEnuM, length > 0 ? meanM / length : 0);
}

const LOOKING = [
  'looking north or south',
  'looking north-east or south-west',
  'looking east or west',
  'looking south-east or north-west',
] as const;

/** Along the two level directions at right angles to a vector. */
function squareTo(v: Vec3): string {
  const eighths = Math.round((Math.atan2(v[1], -v[0]) * 4) / Math.PI);
  return LOOKING[((eighths % 4) + 4) % 4];
}
