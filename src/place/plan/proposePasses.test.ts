import { expect, test } from 'vitest';
import type { LineComponent, LineModel } from '../../line/LineModel.ts';
import type { Vec3 } from '../../maths/vec3.ts';
import { distance } from '../../maths/vec3.ts';
import { proposePasses } from './proposePasses.ts';

/** Towers along a bent way, one phase on either side of each and an earth wire on top, straight wires sagging in the middle. */
function bentLine(feet: readonly Vec3[], armM = 6): LineModel {
  const wires: LineComponent[] = [];
  const wire = (id: string, kind: 'conductor' | 'earth wire', axisEnuM: Vec3[], ids: string[]): void => {
    wires.push({
      id,
      kind,
      structureIds: ids,
      circuit: '1',
      phase: 'A',
      axisEnuM,
      radiusM: 0.02,
      sigmaM: 0.1,
      discs: 0,
      bundle: null,
    });
  };
  for (let i = 0; i + 1 < feet.length; i++) {
    const [a, b] = [feet[i], feet[i + 1]];
    const along = Math.atan2(b[1] - a[1], b[0] - a[0]);
    for (const [name, out, up] of [
      ['left', armM, 24],
      ['right', -armM, 24],
      ['top', 0, 33],
    ] as const) {
      const off = (p: Vec3, down: number): Vec3 => [
        p[0] - out * Math.sin(along),
        p[1] + out * Math.cos(along),
        p[2] + up - down,
      ];
      const middle: Vec3 = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2];
      wire(
        `${name}-${i}`,
        name === 'top' ? 'earth wire' : 'conductor',
        [off(a, 0), off(middle, 7), off(b, 0)],
        [`T${i}`, `T${i + 1}`],
      );
    }
  }
  return {
    name: 'Gannet line',
    owner: 'invented',
    voltageKv: 220,
    structures: feet.map((footEnuM, i) => ({ id: `T${i}`, kind: 'suspension', footEnuM, heightM: 34, sigmaM: 0.1 })),
    components: wires,
  };
}

const FEET: Vec3[] = [
  [0, 0, 0],
  [310, 40, 12],
  [590, -60, 31],
  [800, -330, 25],
];
const WISHES = { standoffM: 40, swathUpM: 26, leadM: 30, look: { azimuthDeg: 90, depressionDeg: 0 } };

/** The least distance from a polyline to all wires, by brute force over points of both. */
function bruteClearanceM(way: readonly Vec3[], line: LineModel): number {
  const dense = (points: readonly Vec3[], n: number): Vec3[] =>
    points
      .slice(1)
      .flatMap((b, i) =>
        Array.from(
          { length: n },
          (_, k): Vec3 => [0, 1, 2].map((c) => points[i][c] + ((b[c] - points[i][c]) * k) / n) as unknown as Vec3,
        ),
      );
  const wirePoints = line.components.flatMap((c) => dense(c.axisEnuM, 60));
  let least = Number.POSITIVE_INFINITY;
  for (const p of dense(way, 60)) for (const q of wirePoints) least = Math.min(least, distance(p, q));
  return least;
}

test('no pass comes nearer to a wire than the standoff, round bends and over slopes, and none stays much farther', () => {
  const line = bentLine(FEET);
  const proposal = proposePasses(line, WISHES);
  if (proposal.kind === 'refused') throw new Error(proposal.because);
  expect(proposal.passes.map((pass) => pass.name)).toEqual(['left', 'right']);
  for (const pass of proposal.passes) {
    const least = bruteClearanceM(
      pass.waypoints.map((w) => w.positionEnuM),
      line,
    );
    expect(least).toBeGreaterThan(40 - 0.02 - 0.02); // the wire's radius, and that brute force has points for lines
    expect(least).toBeLessThan(41);
    expect(pass.clearanceM).toBeGreaterThanOrEqual(40);
  }
});

test.each([
  [90, 'to the right'],
  [-90, 'to the left'],
])('a camera that looks %i degrees (%s) always has the line on that side, flying nose first', (azimuthDeg) => {
  const proposal = proposePasses(bentLine(FEET), { ...WISHES, look: { azimuthDeg, depressionDeg: 0 } });
  if (proposal.kind === 'refused') throw new Error(proposal.because);
  for (const { waypoints } of proposal.passes) {
    for (let i = 0; i + 1 < waypoints.length; i++) {
      const [a, b] = [waypoints[i].positionEnuM, waypoints[i + 1].positionEnuM];
      const towardsTower = FEET.map((foot) => [foot[0] - a[0], foot[1] - a[1]]);
      // Cross product of course and way to the nearest tower: negative where it lies to the right.
      const nearest = towardsTower.reduce((m, v) => (Math.hypot(v[0], v[1]) < Math.hypot(m[0], m[1]) ? v : m));
      const turn = (b[0] - a[0]) * nearest[1] - (b[1] - a[1]) * nearest[0];
      expect(Math.sign(turn)).toBe(azimuthDeg > 0 ? -1 : 1);
      const courseDeg = (Math.atan2(b[0] - a[0], b[1] - a[1]) * 180) / Math.PI;
      const off = Math.abs(((waypoints[i].headingDeg - courseDeg + 540) % 360) - 180);
      expect(off).toBeLessThan(25); // half of the sharpest bend of this line is 19 degrees, the rest is the leg's own slant
    }
  }
});

test('heights follow the hardware: at mid-span the pass is lower than the towers beside it by the sag', () => {
  const flat: Vec3[] = [
    [0, 0, 0],
    [300, 0, 0],
  ];
  const proposal = proposePasses(bentLine(flat), WISHES);
  if (proposal.kind === 'refused') throw new Error(proposal.because);
  const up = proposal.passes[0].waypoints.map((w) => w.positionEnuM[2]);
  expect(up[1]).toBeCloseTo((24 + 33) / 2, 6);
  expect(up[2]).toBeCloseTo((24 + 33) / 2 - 7, 6);
});

test('a camera that looks down 30 degrees is flown above what it looks at, by the tangent of it', () => {
  const flat: Vec3[] = [
    [0, 0, 0],
    [300, 0, 0],
  ];
  const proposal = proposePasses(bentLine(flat), { ...WISHES, look: { azimuthDeg: 90, depressionDeg: 30 } });
  if (proposal.kind === 'refused') throw new Error(proposal.because);
  const [, abeam] = proposal.passes[0].waypoints;
  const rise = abeam.positionEnuM[2] - (24 + 33) / 2;
  expect(rise / Math.abs(abeam.positionEnuM[1])).toBeCloseTo(Math.tan(Math.PI / 6), 9);
});

test('hardware higher than the image is flown in levels that together cover it', () => {
  const proposal = proposePasses(bentLine(FEET), { ...WISHES, swathUpM: 8 });
  if (proposal.kind === 'refused') throw new Error(proposal.because);
  expect(proposal.levels).toBe(2); // 9 m of hardware, 80 % of 8 m a level
  expect(proposal.passes).toHaveLength(4);
});

test('a camera that looks straight down has no sides to fly on', () => {
  expect(proposePasses(bentLine(FEET), { ...WISHES, look: { azimuthDeg: 0, depressionDeg: 90 } })).toMatchObject({
    kind: 'refused',
  });
});
