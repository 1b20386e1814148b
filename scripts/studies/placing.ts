/**
 * How right positions, ellipsoids and components are: flights drawn event by event past an invented line, each with a rig, a
 * trajectory and a line list of its own, every error drawn from its stated deviation; then the product's own placing,
 * joining and attribution. Sightings come from a search that makes no mistake, so that this page is about places alone; whole
 * worlds (docs/accuracy/worlds.md) have the real search before it.
 */

import { systematicErrors } from '../../src/jobs/inspect/systematicErrors.ts';
import { lineModelFromFile } from '../../src/line/lineModelFromFile.ts';
import { chiSquareQuantile } from '../../src/maths/distributions.ts';
import { invert, type Mat3, quadraticForm } from '../../src/maths/mat3.ts';
import { randomFrom } from '../../src/maths/random.ts';
import { mean, quantile } from '../../src/maths/sampleStatistics.ts';
import { add, distance, dot, norm, scale, subtract, unit, type Vec3 } from '../../src/maths/vec3.ts';
import type { Candidate } from '../../src/place/Attribution.ts';
import { attribute } from '../../src/place/attribute.ts';
import { depthFromLine } from '../../src/place/depthFromLine.ts';
import { gatherDischarges } from '../../src/place/gatherDischarges.ts';
import { type Registration, TWO_CAMERA_PARAMETER_COUNT } from '../../src/rig/Registration.ts';
import { hangWire } from '../../src/simulate/catenary.ts';
import { describeLine } from '../../src/simulate/describe.ts';
import { inventWorld } from '../../src/simulate/inventWorld.ts';
import type { InventedLine, World } from '../../src/simulate/World.ts';
import { bootstrapByFlight } from './bootstrapByFlight.ts';
import { type BelievedRig, believeRig, flyEvents } from './eventFlight.ts';
import { knownSightings } from './knownSightings.ts';
import { isTimeUp, NotYetDone, piece } from './pieces.ts';
import type { Study } from './Study.ts';

interface DiscNamed {
  readonly stated: number;
  readonly truth: number;
}

/** One discharge as placed, against the truth. */
interface Placing {
  readonly errorEnuM: Vec3;
  readonly normalisedErrorSquared: number;
  /** The same with the part alone that rays do not share, in the ellipsoid of the rest. */
  readonly longestHalfAxisM: number;
  readonly events: number;
  readonly passes: number;
  readonly heldByLine: boolean;
  readonly normalisedRms: number;
  readonly joinedRight: boolean;
  readonly right: boolean;
  readonly firstProbability: number;
  readonly probabilityOfTruth: number;
  /** Distance of the true place from the nearest other component, in sigmas of position and line together. */
  readonly sigmasApart: number;
  /** With the hardware's places as the owner's list has them, and with 2 cm of error. */
  readonly disc: DiscNamed | null;
  readonly discSurveyed: DiscNamed | null;
  readonly onDisc: boolean;
  /** Whether the flight's places follow a correction to boresight and time offset. */
  readonly corrected: boolean;
}

export function placeFlight(seed: number): Placing[] {
  const world = inventWorld(seed);
  const believed = believeRig(world, randomFrom(seed).fork(77));
  const flight = flyEvents(world, believed, seed);
  const known = knownSightings(world, flight);
  const sourceOf = new Map(known.map(({ sighting, discharge }) => [sighting.id, discharge]));
  const registration = registrationOf(believed);
  const { discharges, correction } = gatherDischarges(
    known.map(({ sighting }) => ({
      flight: world.flight.name,
      sighting,
      rays: flight.rays,
      poses: flight.poses,
      errors: systematicErrors(flight.track, (sighting.fromNs + sighting.toNs) / 2, believed.mounting, registration, {
        exposureS: world.flight.uvTimes.exposureNs * 1e-9,
        mainsHz: 50,
        frameRateHz: world.flight.uvRateHz,
        watchedS: (sighting.toNs - sighting.fromNs) * 1e-9,
      }),
    })),
    { depthFromLine: (origin, direction, sigma) => depthFromLine(flight.line, origin, direction, sigma, 8, 120) },
  );
  const surveyed = lineModelFromFile(
    JSON.parse(JSON.stringify(describeLine(surveyedTo(world, SURVEYED_M)))),
    'line.json',
    flight.frame,
  );
  return discharges.map((found): Placing => {
    const index = sourceOf.get(found.id) ?? -1;
    const truth = world.flight.sources[index];
    if (truth.kind !== 'discharge') throw new Error('only discharges have known sightings');
    const { placement } = found;
    const errorEnuM = subtract(placement.positionEnuM, truth.positionEnuM);
    const weight = invert(placement.covarianceEnuM2);
    const { candidates } = attribute(placement, flight.line);
    const trueDisc = Number(/^disc (\d+) /.exec(truth.note)?.[1] ?? Number.NaN);
    const first = candidates[0];
    return {
      errorEnuM,
      normalisedErrorSquared: weight ? quadraticForm(weight, errorEnuM) : Number.POSITIVE_INFINITY,
      longestHalfAxisM: Math.sqrt(Math.max(...[0, 4, 8].map((i) => placement.covarianceEnuM2[i]))),
      events: known
        .filter((k) => k.discharge === index)
        .reduce((sum, k) => sum + k.sighting.membership.reduce((a, b) => a + b, 0), 0),
      passes: found.passes,
      heldByLine: placement.heldByLine,
      normalisedRms: placement.normalisedRms,
      joinedRight: found.sightingIds.length === known.filter((k) => k.discharge === index).length,
      right: first.componentId === truth.componentId,
      firstProbability: first.probability,
      probabilityOfTruth: candidates.find((c) => c.componentId === truth.componentId)?.probability ?? 0,
      sigmasApart: sigmasApart(world.line, truth.componentId, truth.positionEnuM, placement.covarianceEnuM2),
      onDisc: Number.isFinite(trueDisc),
      disc: discNamed(first, truth.componentId, trueDisc),
      discSurveyed: discNamed(attribute(placement, surveyed).candidates[0], truth.componentId, trueDisc),
      corrected: correction.kind === 'adopted',
    };
  });
}

const discNamed = (first: Candidate, component: string, trueDisc: number): DiscNamed | null =>
  first.componentId === component && first.disc !== null && Number.isFinite(trueDisc)
    ? { stated: first.disc, truth: trueDisc }
    : null;

/** How well a point cloud or a survey knows hardware, against the 8 to 15 cm of an owner's list. */
const SURVEYED_M = 0.02;

/** The world with a line list in which the hardware stands to so many metres. */
const surveyedTo = (world: World, sigmaM: number): World => ({
  ...world,
  line: {
    ...world.line,
    components: world.line.components.map((c) => ({
      ...c,
      sigmaM,
      nominalShiftM: scale(c.nominalShiftM, sigmaM / c.sigmaM),
    })),
  },
});

/** The uv lens of the believed rig where an inspection expects a registration; nothing else of it is asked for. */
export function registrationOf(believed: BelievedRig): Pick<Registration, 'model' | 'covariance'> & Registration {
  const n = TWO_CAMERA_PARAMETER_COUNT;
  const covariance = new Float64Array(n * n);
  for (let i = 0; i < 9; i++) for (let j = 0; j < 9; j++) covariance[n * i + j] = believed.lensCovariance[9 * i + j];
  return {
    model: {
      kind: 'two-camera',
      uv: believed.lens,
      colour: believed.lens,
      colourFromUv: { rotation: [1, 0, 0, 0, 1, 0, 0, 0, 1], translation: [0, 0, 0] },
      residualField: [],
    },
    covariance,
    support: { uvHullPx: [], nearestM: 0, farthestM: Number.POSITIVE_INFINITY },
    heldOutRmsPx: 0,
    hash: '',
  };
}

/** How far, in standard deviations, the nearest other component of the true line is from a true place. */
function sigmasApart(line: InventedLine, own: string, place: Vec3, covarianceEnuM2: Mat3): number {
  const ownSigma = line.components.find((c) => c.id === own)?.sigmaM ?? 0.1;
  let nearest = Number.POSITIVE_INFINITY;
  const consider = (at: Vec3, radiusM: number, sigmaM: number): void => {
    const away = subtract(at, place);
    const gap = norm(away) - radiusM;
    const sigma = Math.sqrt(quadraticForm(covarianceEnuM2, unit(away)) + sigmaM ** 2 + ownSigma ** 2);
    nearest = Math.min(nearest, gap / sigma);
  };
  for (const c of line.components)
    if (c.id !== own) consider(nearestOnSegment(place, c.startEnuM, c.endEnuM), c.radiusM, c.sigmaM);
  for (const c of line.conductors) {
    if (c.id === own) continue;
    const wire = hangWire(c.startEnuM, c.endEnuM, c.sagM);
    const pieces = 400;
    let best = wire(0);
    for (let i = 1; i <= pieces; i++)
      if (distance(wire(i / pieces), place) < distance(best, place)) best = wire(i / pieces);
    consider(best, c.bundle.count > 1 ? c.bundle.spacingM / 2 : c.bundle.radiusM, 0.12);
  }
  return nearest;
}

function nearestOnSegment(place: Vec3, a: Vec3, b: Vec3): Vec3 {
  const along = subtract(b, a);
  const length2 = dot(along, along);
  const k = length2 > 0 ? Math.max(0, Math.min(1, dot(subtract(place, a), along) / length2)) : 0;
  return add(a, scale(along, k));
}

const percent = (p: number, digits = 1): string => `${(100 * p).toFixed(digits)} %`;
const table = (head: readonly string[], rows: readonly (readonly string[])[]): string =>
  [head, head.map(() => '---'), ...rows].map((row) => `| ${row.join(' | ')} |`).join('\n');

/** A share with its interval over flights. */
function share(flights: readonly (readonly Placing[])[], holds: (p: Placing) => boolean): string {
  const members = flights.flat();
  if (members.length === 0) return 'none';
  const of = (list: readonly Placing[]): number => list.filter(holds).length / list.length;
  const [low, high] = bootstrapByFlight(flights, of);
  return `${members.filter(holds).length} of ${members.length}, ${percent(of(members))} (${percent(low)} to ${percent(high)})`;
}

const only = (flights: readonly (readonly Placing[])[], holds: (p: Placing) => boolean): Placing[][] =>
  flights.map((flight) => flight.filter(holds));

const insideAt =
  (confidence: number) =>
  (p: Placing): boolean =>
    p.normalisedErrorSquared <= chiSquareQuantile(confidence, 3);

function positionRow(name: string, flights: readonly (readonly Placing[])[]): string[] {
  const all = flights.flat();
  if (all.length === 0) return [name, '0', '', '', '', ''];
  const errors = all.map((p) => norm(p.errorEnuM));
  const nees = (list: readonly Placing[]): number => mean(list.map((p) => p.normalisedErrorSquared));
  const [low, high] = bootstrapByFlight(flights, nees);
  return [
    name,
    String(all.length),
    quantile(errors, 0.5).toFixed(3),
    quantile(errors, 0.95).toFixed(3),
    share(flights, insideAt(0.95)).split(', ')[1],
    `${nees(all).toFixed(2)} (${low.toFixed(2)} to ${high.toFixed(2)})`,
  ];
}

const BINS = [0, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99, 1];

function reliabilityRows(flights: readonly (readonly Placing[])[]): string[][] {
  return BINS.slice(1).flatMap((to, i) => {
    const from = BINS[i];
    const within = only(flights, (p) => p.firstProbability >= from && (p.firstProbability < to || to === 1));
    const all = within.flat();
    if (all.length === 0) return [];
    const stated = mean(all.map((p) => p.firstProbability));
    const right = all.filter((p) => p.right).length / all.length;
    return [
      [
        `${from} to ${to}`,
        String(all.length),
        stated.toFixed(3),
        share(within, (p) => p.right).split(', ')[1],
        `\`${bar(stated)}\` stated<br>\`${bar(right)}\` right`,
      ],
    ];
  });
}

function discRow(
  name: string,
  flights: readonly (readonly Placing[])[],
  of: (p: Placing) => DiscNamed | null,
): string[] {
  const named = only(flights, (p) => of(p) !== null);
  const within = (discs: number) =>
    share(named, (p) => {
      const disc = of(p);
      return disc !== null && Math.abs(disc.stated - disc.truth) <= discs;
    });
  return [name, String(named.flat().length), within(0), within(1)];
}

const bar = (p: number): string => '█'.repeat(Math.round(20 * p)).padEnd(20, '·');

export function placingPage(seeds: readonly number[], flights: readonly (readonly Placing[])[]) {
  const all = flights.flat();
  const errors = all.map((p) => norm(p.errorEnuM));
  const apart = only(flights, (p) => p.sigmasApart > 4);
  const near = only(flights, (p) => p.sigmasApart <= 4);
  const axis = (c: 0 | 1 | 2): string => mean(all.map((p) => p.errorEnuM[c])).toFixed(3);
  const correctedFlights = flights.filter((flight) => flight.some((p) => p.corrected)).length;
  const onDiscs = all.filter((p) => p.onDisc && p.right).length;
  const claimed = mean(all.map((p) => p.firstProbability));
  const logScore = mean(all.map((p) => -Math.log(Math.max(p.probabilityOfTruth, 1e-3))));
  return {
    title: 'Placing',
    headline: `${all.length} discharges of ${flights.length} flights at 40 m and 15 m/s: median 3D error ${quantile(errors, 0.5).toFixed(3)} m, truth in the 95 % ellipsoid ${share(flights, insideAt(0.95)).split(', ')[1]}, component right where others are more than four sigma away ${share(apart, (p) => p.right).split(', ')[1]}.`,
    markdown: `Flights ${seeds[0]} to ${seeds[seeds.length - 1]}, each past a line of its own on both sides, 40 m from the nearest phase at 15 m/s and 50 frames a second, drawn
event by event without rendering a picture; the drawing shares no code with the measuring side beyond linear algebra. Each flight has its own draw of: trajectory
errors (first-order Gauss-Markov, 2.5 cm horizontal and 4 cm vertical over 90 s, roll and pitch 0.01°, heading 0.03° over 60 and 120 s, and white noise on
top); boresight 0.015° an axis; lever arm 1 cm an axis; time offset 0.3 ms; the uv lens, from the covariance that a bench run states; the line list (towers 5 cm,
hardware 8 to 15 cm, sags 12 cm); background, flicker, and ten discharges from one event in ten frames to many a frame. Placing assumes one correlation
time of 60 s for all of the trajectory's errors.

Discharges of one flight share its errors, so that they do not count one by one: every interval (95 %) is from drawing whole flights with replacement.

## Position

${table(
  [
    'discharges',
    'number',
    'median 3D error m',
    '95 % below m',
    'truth inside the 95 % ellipsoid',
    'normalised error squared (3 expected)',
  ],
  [
    positionRow('all', flights),
    positionRow(
      'seen from both sides',
      only(flights, (p) => p.passes > 1),
    ),
    positionRow(
      'seen from one side',
      only(flights, (p) => p.passes === 1),
    ),
    positionRow(
      'depth lent by the line',
      only(flights, (p) => p.heldByLine),
    ),
    positionRow(
      'up to 40 events',
      only(flights, (p) => p.events <= 40),
    ),
    positionRow(
      '40 to 400 events',
      only(flights, (p) => p.events > 40 && p.events <= 400),
    ),
    positionRow(
      'more than 400 events',
      only(flights, (p) => p.events > 400),
    ),
  ],
)}

Mean error east, north, up: ${axis(0)}, ${axis(1)}, ${axis(2)} m. Sightings of one discharge joined, and with no other: ${share(flights, (p) => p.joinedRight)}.

Truths inside ellipsoids of other confidence:

${table(
  ['confidence', 'truths inside'],
  [0.5, 0.68, 0.9, 0.95, 0.99].map((c) => [percent(c, 0), share(flights, insideAt(c))]),
)}

## Component

${table(
  ['discharges', 'first-ranked component is the right one', 'right, as the probabilities claim'],
  [
    [
      'other components more than four sigma away',
      share(apart, (p) => p.right),
      percent(mean(apart.flat().map((p) => p.firstProbability))),
    ],
    ['others nearer', share(near, (p) => p.right), percent(mean(near.flat().map((p) => p.firstProbability)))],
    ['all', share(flights, (p) => p.right), percent(claimed)],
  ],
)}

Sigma is of the distance between the true place and the surface of the nearest other component: the position's own, in that direction, with that of either component
in the line list. Where a ring hangs round the end of a string and a clamp below it, the nearest other component is decimetres away: no better than that can
be asked of a position, and the probabilities say so. Mean −ln of the probability given to the truth: ${logScore.toFixed(3)}.

Reliability of the first-ranked component's probability:

${table(['probability stated', 'discharges', 'mean stated', 'right', ''], reliabilityRows(flights))}

A disc is named where it is the right one with at least 68 %; discharges on a disc of a string rightly named: ${onDiscs}.

${table(
  ['hardware known to', 'a disc was named', 'the right one', 'the right one or its neighbour'],
  [
    discRow('8 cm, as in the list', flights, (p) => p.disc),
    discRow('2 cm, as surveyed', flights, (p) => p.discSurveyed),
  ],
)}

Boresight and time offset were corrected by the discharges themselves in ${correctedFlights} of ${flights.length} flights; what they find is mostly the principal point of the
lens, which a bench leaves uncertain by more than the boresight (docs/accuracy/correction.md has flights with other errors).`,
  };
}

export const study: Study = ({ seeds = 160, firstSeed = 3001, progress }) => {
  const all = Array.from({ length: seeds }, (_, i) => firstSeed + i);
  const flights = all.map((seed, i) => {
    if (isTimeUp()) throw new NotYetDone();
    const placed = piece(`placing-${seed}`, () => placeFlight(seed));
    if ((i + 1) % 10 === 0) progress(`${i + 1} of ${seeds} flights`);
    return placed;
  });
  return placingPage(all, flights);
};
