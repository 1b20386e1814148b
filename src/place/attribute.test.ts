import { expect, test } from 'vitest';
import type { ComponentKind, LineComponent, LineModel } from '../line/LineModel.ts';
import { addMat, diagonal3, type Mat3, multiplyVec } from '../maths/mat3.ts';
import { randomFrom } from '../maths/random.ts';
import { rotationFromVector } from '../maths/rotation.ts';
import { add, scale, subtract, type Vec3 } from '../maths/vec3.ts';
import { type AttributionPriors, attribute, DEFAULT_PRIORS, discLayout } from './attribute.ts';
import { axisLikelihood, pointOnAxis } from './axis.ts';
import type { Placed } from './placeSighting.ts';

const component = (
  id: string,
  kind: ComponentKind,
  axisEnuM: Vec3[],
  more: Partial<LineComponent> = {},
): LineComponent => ({
  id,
  kind,
  structureIds: ['T1'],
  circuit: '1',
  phase: 'a',
  axisEnuM,
  radiusM: 0.12,
  sigmaM: 0.05,
  discs: 0,
  bundle: null,
  ...more,
});

/** A suspension string with ring, clamp and conductor, and a second string 1.2 m beside it. */
const LINE: LineModel = {
  name: 'test line',
  owner: 'nobody',
  voltageKv: 380,
  structures: [],
  components: [
    component(
      'string A',
      'insulator string',
      [
        [0, 0, 44],
        [0, 0, 40.6],
      ],
      { discs: 20, radiusM: 0.14, sigmaM: 0.02 },
    ),
    component(
      'string B',
      'insulator string',
      [
        [1.2, 0, 44],
        [1.2, 0, 40.6],
      ],
      { discs: 20, radiusM: 0.14, sigmaM: 0.02 },
    ),
    component(
      'ring A',
      'ring',
      [
        [0, 0, 40.8],
        [0, 0, 40.75],
      ],
      { radiusM: 0.25 },
    ),
    component(
      'clamp A',
      'clamp',
      [
        [-0.15, 0, 40.5],
        [0.15, 0, 40.5],
      ],
      { radiusM: 0.05 },
    ),
    component(
      'conductor',
      'conductor',
      [
        [-160, 0, 46],
        [-60, 0, 41],
        [0, 0, 40.4],
        [60, 0, 41],
        [160, 0, 46],
      ],
      { radiusM: 0.02 },
    ),
    component(
      'damper',
      'damper',
      [
        [1.5, 0, 40.3],
        [1.9, 0, 40.3],
      ],
      { radiusM: 0.05 },
    ),
  ],
};

const placed = (positionEnuM: Vec3, covarianceEnuM2: Mat3, more: Partial<Placed> = {}): Placed => ({
  kind: 'placed',
  positionEnuM,
  covarianceEnuM2,
  randomCovarianceEnuM2: covarianceEnuM2,
  systematicCovarianceEnuM2: diagonal3(0, 0, 0),
  rays: 30,
  normalisedRms: 1,
  nearestRangeM: 40,
  crossingDeg: 40,
  heldByLine: false,
  ...more,
});

test('the likelihood of a source on a straight axis is the integral of its Gaussian, by Simpson rule', () => {
  const axis: Vec3[] = [
    [0, 0, 0],
    [3, 1, 0],
    [4, 1, 2],
  ];
  const turn = rotationFromVector([0.3, -0.5, 0.2]);
  const columns = [0.09, 0.25, 0.5].map((v, i) => {
    const e: Vec3 = [turn[i], turn[3 + i], turn[6 + i]];
    return e.flatMap((a) => e.map((b) => a * b * v)) as unknown as Mat3;
  });
  const covariance = addMat(addMat(columns[0], columns[1]), columns[2]);
  const place: Vec3 = [3.2, 1.4, 0.3];
  const found = axisLikelihood(axis, [{ fromM: 0, toM: 99, perM: 1 }], place, covariance, 0);
  const length = Math.sqrt(10) + Math.sqrt(5);
  const n = 4000;
  let sum = 0;
  let first = 0;
  for (let i = 0; i <= n; i++) {
    const at = pointOnAxis(axis, i / n);
    const d = subtract(place, at);
    // Along the three principal axes of the covariance.
    const z = [0, 1, 2].map((k) => turn[k] * d[0] + turn[3 + k] * d[1] + turn[6 + k] * d[2]);
    const density =
      Math.exp(-(z[0] ** 2 / 0.09 + z[1] ** 2 / 0.25 + z[2] ** 2 / 0.5) / 2) /
      Math.sqrt((2 * Math.PI) ** 3 * 0.09 * 0.25 * 0.5);
    const w = i === 0 || i === n ? 1 : i % 2 === 1 ? 4 : 2;
    sum += (w * density * length) / n / 3;
    first += (w * density * (i / n) * length * length) / n / 3;
  }
  // Simpson's rule over the kink of the axis: 1e-5.
  expect(Math.abs(found.likelihoodPerM3 / sum - 1)).toBeLessThan(1e-4);
  expect(found.meanM).toBeCloseTo(first / sum, 3);
});

test('probabilities are calibrated: of discharges drawn from the priors, the share right equals the share claimed, seed 71', () => {
  const random = randomFrom(71);
  const bins = Array.from({ length: 10 }, () => ({ claimed: 0, right: 0, count: 0 }));
  // Space around the hardware in which things unknown to the model discharge too, made common so that they are tested.
  const priors: AttributionPriors = { ...DEFAULT_PRIORS, nonePerM3: 0.02 };
  const box = { from: [-3, -2.5, 39] as Vec3, size: [8, 5, 6] as Vec3 };
  const inBox = (p: Vec3) => p.every((x, i) => x >= box.from[i] && x <= box.from[i] + box.size[i]);
  const noneExpected = priors.nonePerM3 * 8 * 5 * 6;
  const expected = LINE.components.map((c) => priors.kinds[c.kind].expected * (c.kind === 'conductor' ? 8 : 1));
  const all = expected.reduce((a, b) => a + b, noneExpected);
  let disc = 0;
  let discRight = 0;
  for (let draw = 0; draw < 3500; draw++) {
    let pick = random.uniform() * all - noneExpected;
    let truth: LineComponent | null = null;
    let source: Vec3 = [0, 0, 0];
    let trueDisc = 0;
    if (pick < 0) {
      source = box.from.map((f, i) => f + box.size[i] * random.uniform()) as unknown as Vec3;
    } else {
      truth = LINE.components[0];
      for (let i = 0; pick >= 0; i++) {
        truth = LINE.components[i];
        pick -= expected[i];
      }
      const [axis, length] = truth.kind === 'conductor' ? [conductorPiece(), 8] : [truth.axisEnuM, lengthOf(truth)];
      let along = random.uniform();
      if (truth.kind === 'insulator string' && random.uniform() < 0.5) {
        const end = (0.3 / length) * random.uniform();
        along = random.uniform() < 0.5 ? end : 1 - end;
      }
      const angle = 2 * Math.PI * random.uniform();
      const round: Vec3 =
        Math.abs(axis[1][2] - axis[0][2]) > 0.01 && truth.kind !== 'conductor'
          ? [Math.cos(angle), Math.sin(angle), 0]
          : [0, Math.cos(angle), Math.sin(angle)];
      source = add(pointOnAxis(axis, along), scale(round, truth.radiusM));
      trueDisc = Math.floor((along * 3.4 - 0.24) / 0.146) + 1;
      source = add(source, scale([random.normal(), random.normal(), random.normal()], truth.sigmaM));
    }
    const sigma: Vec3 = [0.05 + 0.5 * random.uniform(), 0.05 + 0.8 * random.uniform(), 0.02 + 0.18 * random.uniform()];
    const position = add(source, [sigma[0] * random.normal(), sigma[1] * random.normal(), sigma[2] * random.normal()]);
    // Kept away from the walls of the box, where the truth's density ends and the model's does not.
    if (!inBox(source) || !inBox(position) || Math.abs(position[0]) > 2.5) continue;
    const found = attribute(placed(position, diagonal3(sigma[0] ** 2, sigma[1] ** 2, sigma[2] ** 2)), LINE, priors);
    for (const candidate of found.candidates) {
      const bin = bins[Math.min(9, Math.floor(candidate.probability * 10))];
      bin.count++;
      bin.claimed += candidate.probability;
      if (candidate.componentId === (truth?.id ?? null)) {
        bin.right++;
        if (candidate.disc !== null) {
          disc++;
          if (candidate.disc === trueDisc) discRight++;
        }
      }
    }
  }
  for (const { claimed, right, count } of bins) {
    expect(count).toBeGreaterThan(50);
    const p = claimed / count;
    // Three binomial sigmas, and 0.01 for the round surfaces that the likelihood takes as Gaussian.
    expect(Math.abs(right / count - p)).toBeLessThan(3 * Math.sqrt((p * (1 - p)) / count) + 0.01);
  }
  expect(disc).toBeGreaterThan(50);
  expect(discRight / disc).toBeGreaterThan(0.68 - 3 * Math.sqrt(0.22 / disc));
});

const conductorPiece = (): Vec3[] => [
  [-3, 0, 40.43],
  [0, 0, 40.4],
  [5, 0, 40.45],
];
const lengthOf = (c: LineComponent): number => Math.hypot(...subtract(c.axisEnuM[1], c.axisEnuM[0]));

test('a discharge within the accuracy of one string is put on it, with its disc', () => {
  const found = attribute(placed([0.02, 0.1, 42.25], diagonal3(0.0009, 0.0009, 0.0009)), {
    ...LINE,
    components: LINE.components.map((c) => ({ ...c, sigmaM: 0.01 })),
  });
  expect(found.candidates[0].componentId).toBe('string A');
  expect(found.candidates[0].probability).toBeGreaterThan(0.99);
  // 20 discs of 146 mm leave 0.24 m of fitting at either end of 3.4 m: (44 - 42.25 - 0.24) / 0.146 = 10.3, the eleventh.
  expect(found.candidates[0].disc).toBe(11);
  expect(found.advice).toBeNull();
});

test('a glow in the middle of a string is the string, one on the rim of the ring about it the ring', () => {
  const ring = LINE.components.find((c) => c.id === 'ring A')!;
  const centre = pointOnAxis(LINE.components[0].axisEnuM, 0.9);
  const about = { ...ring, axisEnuM: [centre, centre], radiusM: 0.3 };
  const line = { ...LINE, components: [LINE.components[0], about] };
  const sure = diagonal3(0.05 ** 2, 0.05 ** 2, 0.05 ** 2);
  const on = (offM: Vec3): string | null => attribute(placed(add(centre, offM), sure), line).candidates[0].componentId;
  expect(on([0.1, 0, 0])).toBe('string A');
  expect(on([0.3, 0, 0])).toBe('ring A');
  // Above or below the ring's plane by its radius is the string again, as a ball about its middle would not have it.
  expect(on([0, 0.12, 0.25])).toBe('string A');
});

test('midway between two strings both get the same share, and another pass is advised', () => {
  const found = attribute(placed([0.6, 0, 42.3], diagonal3(0.5, 0.02, 0.02)), LINE);
  expect(found.candidates[0].probability).toBeCloseTo(found.candidates[1].probability, 6);
  expect(found.candidates[0].disc).toBeNull();
  expect(found.advice).toContain('string A and string B lie 1.2 m apart');
  // The doubt lies east-west: looking north or south measures it.
  expect(found.advice).toContain('looking north or south');
});

test('far from everything the answer is none of the components', () => {
  const found = attribute(placed([40, 60, 20], diagonal3(0.01, 0.01, 0.01)), LINE);
  expect(found.candidates).toHaveLength(1);
  expect(found.candidates[0]).toMatchObject({ componentId: null, probability: 1 });
});

test('a depth lent by the line does not decide between strings one behind the other', () => {
  const behind: LineModel = {
    ...LINE,
    components: [
      LINE.components[0],
      component(
        'string C',
        'insulator string',
        [
          [0, 9, 44],
          [0, 9, 40.6],
        ],
        { discs: 20 },
      ),
    ],
  };
  // Held at A's depth to 0.1 m, though the rays alone know the depth to 20 m only.
  const held = placed([0, 0, 42.5], diagonal3(0.01, 0.01, 0.01), {
    heldByLine: true,
    withoutLine: { positionEnuM: [0, 0, 42.5], covarianceEnuM2: diagonal3(0.01, 400, 0.01) },
  });
  const found = attribute(held, behind);
  expect(found.candidates[1].componentId).toBe('string C');
  expect(found.candidates[1].probability).toBeGreaterThan(0.4);
});

test('turning the world leaves the probabilities as they are', () => {
  const turn = rotationFromVector([0, 0, 1.1]);
  const turned: LineModel = {
    ...LINE,
    components: LINE.components.map((c) => ({ ...c, axisEnuM: c.axisEnuM.map((p) => multiplyVec(turn, p)) })),
  };
  const at: Vec3 = [0.3, 0.2, 40.9];
  const straight = attribute(placed(at, diagonal3(0.04, 0.04, 0.04)), LINE);
  const other = attribute(placed(multiplyVec(turn, at), diagonal3(0.04, 0.04, 0.04)), turned);
  straight.candidates.forEach((c, i) => {
    expect(other.candidates[i].componentId).toBe(c.componentId);
    expect(other.candidates[i].probability).toBeCloseTo(c.probability, 9);
  });
});

// IEC 60305 pitches (from memory) with usual fittings.
test.each([
  [15, 2.59, 0.146],
  [21, 4.07, 0.17],
  [24, 5.2, 0.195],
])('%i discs on %d m have the standard pitch %d', (discs, lengthM, pitchM) => {
  const layout = discLayout(discs, lengthM);
  expect(layout.pitchM).toBe(pitchM);
  expect(layout.firstM).toBeCloseTo((lengthM - discs * pitchM) / 2, 9);
});

test('discs that no standard pitch fits share the axis evenly', () => {
  expect(discLayout(10, 5)).toEqual({ firstM: 0, pitchM: 0.5 });
});

test('the right one of two strings is ranked first in 99 of 100 cases where they stand more than four sigma apart, seed 72', () => {
  const random = randomFrom(72);
  const draws = 1000;
  let right = 0;
  for (let i = 0; i < draws; i++) {
    const sigma = 0.05 + 0.2 * random.uniform();
    // Four sigma of the position and of both strings' own places together.
    const apart = 4 * Math.hypot(sigma, 0.05) * (1 + random.uniform());
    const strings = [0, apart].map((east, k) =>
      component(
        `string ${k}`,
        'insulator string',
        [
          [east, 0, 44],
          [east, 0, 40.6],
        ],
        { discs: 20, radiusM: 0.05 },
      ),
    );
    const truth = i % 2;
    const place: Vec3 = [
      truth * apart + Math.hypot(sigma, 0.05) * random.normal(),
      sigma * random.normal(),
      41 + 2.6 * random.uniform(),
    ];
    const found = attribute(placed(place, diagonal3(sigma ** 2, sigma ** 2, sigma ** 2)), {
      ...LINE,
      components: strings,
    });
    if (found.candidates[0].componentId === `string ${truth}`) right++;
  }
  // The half-way line is two sigma off at four (2.3 % wrong) and four at eight (none): 0.4 % wrong over the drawn distances.
  expect(right / draws).toBeGreaterThanOrEqual(0.99);
});
