import { expect, test } from 'vitest';
import type { LineComponent, LineModel } from '../line/LineModel.ts';
import { randomFrom } from '../maths/random.ts';
import { distance, subtract, type Vec3 } from '../maths/vec3.ts';
import { attribute } from './attribute.ts';
import { depthFromLine } from './depthFromLine.ts';
import { squaredMahalanobis } from './errorEllipsoid.ts';
import { gatherDischarges, type SightingToPlace } from './gatherDischarges.ts';
import { drawPass, drawRig, ERRORS, flyPass, type PassPlan } from './inventedPass.testdata.ts';

const PLAN: PassPlan = {
  standoffM: 40,
  speedMps: 15,
  exposureS: 0.01,
  halfAngleDeg: 20,
  events: 24,
  pixelSigmaPx: 0.5,
  way: 1,
  startNs: 50e9,
};

/** Both sides of the line, two minutes apart: one sighting of each source and pass. */
function bothSides(sources: readonly Vec3[], seed: number, more: Partial<PassPlan> = {}): SightingToPlace[] {
  const random = randomFrom(seed);
  const rig = drawRig(random);
  const there = drawPass(random);
  const back = drawPass(random, { draw: there, secondsAgo: 120 });
  return [
    flyPass(sources, { ...PLAN, ...more }, rig, there, random),
    flyPass(sources, { ...PLAN, ...more, way: -1, startNs: 170e9 }, rig, back, random),
  ].flatMap(({ sightings, rays, poses }) =>
    sightings.map((sighting) => ({ flight: 'one', sighting, rays, poses, errors: ERRORS })),
  );
}

test('two discharges 1.2 m apart on one string, seen by two passes, stay two, each joined rightly, 20 seeds', () => {
  const sources: Vec3[] = [
    [0.2, 0.1, 41.6],
    [0.2, 0.1, 40.4],
  ];
  for (let seed = 1; seed <= 20; seed++) {
    const { discharges } = gatherDischarges(bothSides(sources, seed));
    expect(discharges).toHaveLength(2);
    discharges.forEach((d, i) => {
      expect(d.sightingIds).toEqual([`50-${i}`, `170-${i}`]);
      expect(d.passes).toBe(2);
      expect(d.confusableWith).toEqual([]);
      // Six of its own sigma would be a wrong join, not bad luck.
      expect(
        squaredMahalanobis(subtract(d.placement.positionEnuM, sources[i]), d.placement.covarianceEnuM2)!,
      ).toBeLessThan(36);
    });
  }
});

test('two discharges a hand apart whose positions cannot tell them apart are named as confusable or joined, never lost', () => {
  const { discharges, unplaced } = gatherDischarges(
    bothSides(
      [
        [0.2, 0.1, 41],
        [0.26, 0.1, 41],
      ],
      5,
      { events: 8, pixelSigmaPx: 3 },
    ),
  );
  expect(unplaced).toEqual([]);
  expect(discharges.flatMap((d) => d.sightingIds).sort()).toEqual(['170-0', '170-1', '50-0', '50-1']);
  if (discharges.length > 1) expect(discharges.some((d) => d.confusableWith.length > 0)).toBe(true);
});

test('the order of the sightings does not change what is joined', () => {
  const sources: Vec3[] = [
    [0.2, 0.1, 41.6],
    [0.2, 0.1, 40.2],
    [6, 0.1, 40.2],
  ];
  const inputs = bothSides(sources, 9);
  const groups = (list: readonly SightingToPlace[]) =>
    gatherDischarges(list)
      .discharges.map((d) => [...d.sightingIds].sort().join(' '))
      .sort();
  expect(groups([...inputs].reverse())).toEqual(groups(inputs));
});

test('two errors of one rig cancel where two sources are compared in one pass: 0.5 m apart is ten sigma though each is 0.1 m uncertain', () => {
  const lame = { ...ERRORS, positionSigmaEnuM: [0.5, 0.5, 0.5] as Vec3 };
  const sources: Vec3[] = [
    [0.2, 0.1, 41.5],
    [0.2, 0.1, 41],
  ];
  const inputs = bothSides(sources, 4)
    .slice(0, 2)
    .map((input) => ({ ...input, errors: lame }));
  const { discharges } = gatherDischarges(inputs);
  expect(discharges).toHaveLength(2);
  expect(Math.sqrt(discharges[0].placement.covarianceEnuM2[8])).toBeGreaterThan(0.4);
});

const string = (id: string, north: number): LineComponent => ({
  id,
  kind: 'insulator string',
  structureIds: ['T'],
  circuit: '1',
  phase: 'a',
  axisEnuM: [
    [0.5, north, 42.5],
    [0.5, north, 39.5],
  ],
  radiusM: 0.13,
  sigmaM: 0.05,
  discs: 18,
  bundle: null,
});
const lineOf = (...components: LineComponent[]): LineModel => ({
  name: 'l',
  owner: 'o',
  voltageKv: 220,
  structures: [],
  components,
});

test('a hover gives a direction, the line gives the depth, and the placement says so, seed 13', () => {
  const line = lineOf(string('near', 0), string('far', -11));
  // Two frames and 1 cm of drift: 0.01 degrees to either side.
  const source: Vec3 = [0.5, 0.13, 41];
  const random = randomFrom(13);
  const hover = flyPass(
    [source],
    { ...PLAN, halfAngleDeg: 0.01, speedMps: 0.5 },
    drawRig(random),
    drawPass(random),
    random,
  );
  const input = { flight: 'one', sighting: hover.sightings[0], rays: hover.rays, poses: hover.poses, errors: ERRORS };
  expect(gatherDischarges([input]).unplaced[0].refusal.because).toBe('rays nearly parallel');
  const { discharges } = gatherDischarges([input], { depthFromLine: (o, d, s) => depthFromLine(line, o, d, s) });
  const { placement } = discharges[0];
  expect(placement.heldByLine).toBe(true);
  expect(placement.withoutLine).toBeDefined();
  // Both strings lie in this direction, 11 m apart: the prior covers both rather than choosing.
  expect(Math.sqrt(placement.covarianceEnuM2[4])).toBeGreaterThan(3);
  expect(squaredMahalanobis(subtract(placement.positionEnuM, source), placement.covarianceEnuM2)!).toBeLessThan(7.8);
  const shares = new Map(attribute(placement, line).candidates.map((c) => [c.componentId, c.probability]));
  expect(shares.get('near')).toBeGreaterThan(0.3);
  expect(shares.get('far')).toBeGreaterThan(0.2);
  // With one string alone in view the place is as good as the line model.
  const alone = gatherDischarges([input], {
    depthFromLine: (o, d, s) => depthFromLine(lineOf(string('near', 0)), o, d, s),
  }).discharges[0].placement;
  expect(distance(alone.positionEnuM, source)).toBeLessThan(0.35);
  expect(Math.sqrt(alone.covarianceEnuM2[4])).toBeLessThan(0.25);
});

test('two hovers at one place are joined, and the line still has to give the depth, seed 14', () => {
  const line = lineOf(string('near', 0));
  const source: Vec3 = [0.5, 0.13, 41];
  const random = randomFrom(14);
  const rig = drawRig(random);
  const plan = { ...PLAN, halfAngleDeg: 0.01, speedMps: 0.5 };
  const inputs = [50e9, 300e9].map((startNs) => {
    const hover = flyPass([source], { ...plan, startNs }, rig, drawPass(random), random);
    return { flight: 'one', sighting: hover.sightings[0], rays: hover.rays, poses: hover.poses, errors: ERRORS };
  });
  const { discharges } = gatherDischarges(inputs, { depthFromLine: (o, d, s) => depthFromLine(line, o, d, s) });
  expect(discharges).toHaveLength(1);
  expect(discharges[0].placement.heldByLine).toBe(true);
  expect(distance(discharges[0].placement.positionEnuM, source)).toBeLessThan(0.4);
});

test('background events with their low membership do not spoil the ellipsoid, seed 15', () => {
  const random = randomFrom(15);
  const source: Vec3 = [1.3, 0.4, 38.2];
  let inside = 0;
  const flights = 300;
  for (let i = 0; i < flights; i++) {
    const flown = flyPass([source], PLAN, drawRig(random), drawPass(random), random);
    // Three events of the background inside an aperture of 5 px: uniform there, recognised as 20 % likely members.
    const stray = flyPass(
      Array.from({ length: 3 }, (): Vec3 => source),
      { ...PLAN, events: 1, pixelSigmaPx: 2.5 },
      drawRig(random),
      drawPass(random),
      random,
    );
    const join = (a: Float64Array, b: Float64Array) => Float64Array.from([...a, ...b]);
    const rays = {
      count: flown.rays.count + stray.rays.count,
      event: Int32Array.from({ length: flown.rays.count + stray.rays.count }, (_, k) => k),
      frame: Int32Array.from([...flown.rays.frame, ...stray.rays.frame]),
      tNs: join(flown.rays.tNs, stray.rays.tNs),
      originEnuM: join(flown.rays.originEnuM, stray.rays.originEnuM),
      directionEnu: join(flown.rays.directionEnu, stray.rays.directionEnu),
      sigmaRad: join(
        flown.rays.sigmaRad,
        stray.rays.sigmaRad.map((s) => s / 5),
      ),
    };
    const sighting = {
      ...flown.sightings[0],
      rays: rays.event,
      membership: Float64Array.from(rays.event, (k) => (k < flown.rays.count ? 0.95 : 0.2)),
    };
    const { discharges } = gatherDischarges([{ flight: 'one', sighting, rays, poses: flown.poses, errors: ERRORS }]);
    const { placement } = discharges[0];
    if (squaredMahalanobis(subtract(placement.positionEnuM, source), placement.covarianceEnuM2)! < 7.8147) inside++;
  }
  // 300 flights leave 1.3 % on a share of 95 %.
  expect(inside / flights).toBeGreaterThan(0.92);
  expect(inside / flights).toBeLessThan(0.985);
});

test.each([
  [12, 2],
  [2, 1],
])('seen again after %i s out of sight, a discharge has %i passes', (gapS, passes) => {
  const source: Vec3 = [0.2, 0.1, 41];
  const random = randomFrom(16);
  const rig = drawRig(random);
  const draw = drawPass(random);
  const first = flyPass([source], PLAN, rig, draw, random);
  const startNs = first.sightings[0].toNs + gapS * 1e9;
  const again = flyPass([source], { ...PLAN, startNs }, rig, draw, random);
  const { discharges } = gatherDischarges(
    [first, again].map(({ sightings, rays, poses }) => ({
      flight: 'one',
      sighting: sightings[0],
      rays,
      poses,
      errors: ERRORS,
    })),
  );
  expect(discharges).toHaveLength(1);
  expect(discharges[0].passes).toBe(passes);
});
