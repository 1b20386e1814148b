import { expect, test } from 'vitest';
import { localFrameAt } from '../earth/LocalFrame.ts';
import { multiplyVec, transpose } from '../maths/mat3.ts';
import { randomFrom } from '../maths/random.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { TrajectoryTable } from '../recording/TrajectoryTable.ts';
import { buildTrack } from './buildTrack.ts';
import { trackFindings } from './trackFindings.ts';

type Writable = { -readonly [K in keyof TrajectoryTable]: TrajectoryTable[K] };
const frame = localFrameAt([13.7, 47.3, 600]);

/** 80 s at 50 Hz: out along a line, a turn of 180 degrees in 20 s, back; GNSS noise of 1 cm, speeds good to 2 cm/s. */
function goodFlight(seed = 1): Writable {
  const random = randomFrom(seed);
  const n = 4000;
  const column = () => new Float64Array(n);
  const table = {
    tNs: column(),
    latDeg: column(),
    lonDeg: column(),
    heightM: column(),
    rollDeg: column(),
    pitchDeg: column(),
    headingDeg: column(),
    velocityNedMps: { north: column(), east: column(), down: column() },
    sigma: {
      northM: column().fill(0.01),
      eastM: column().fill(0.01),
      downM: column().fill(0.02),
      rollDeg: column().fill(0.02),
      pitchDeg: column().fill(0.02),
      headingDeg: column().fill(0.06),
    },
  };
  let p: Vec3 = [0, 0, 60];
  for (let i = 0; i < n; i++) {
    const tS = i / 50;
    const courseDeg = 60 + (tS < 30 ? 0 : tS < 50 ? 9 * (tS - 30) : 180);
    const climb = 0.8 * Math.sin(tS / 4);
    const course = (courseDeg * Math.PI) / 180;
    const v: Vec3 = [12 * Math.sin(course), 12 * Math.cos(course), climb];
    const noisy: Vec3 = [p[0] + 0.01 * random.normal(), p[1] + 0.01 * random.normal(), p[2] + 0.02 * random.normal()];
    const llh = frame.llhFromEnu(noisy);
    const ned = multiplyVec(transpose(frame.enuFromNedAt(llh)), v);
    table.tNs[i] = i * 2e7;
    [table.lonDeg[i], table.latDeg[i], table.heightM[i]] = llh;
    table.rollDeg[i] = 3 * Math.sin(tS) + 0.02 * random.normal();
    table.pitchDeg[i] = 2 * Math.sin(tS / 3) + 0.02 * random.normal();
    table.headingDeg[i] = courseDeg + 4 + 0.06 * random.normal();
    table.velocityNedMps.north[i] = ned[0] + 0.02 * random.normal();
    table.velocityNedMps.east[i] = ned[1] + 0.02 * random.normal();
    table.velocityNedMps.down[i] = ned[2] + 0.02 * random.normal();
    p = [p[0] + v[0] / 50, p[1] + v[1] / 50, p[2] + v[2] / 50];
  }
  return table;
}

const namesOf = (table: TrajectoryTable) => trackFindings(buildTrack(table, frame)).map((f) => f.name);
const scaleInto = (column: Float64Array | undefined, k: number) => column?.forEach((x, i) => (column[i] = x * k));

test.each([1, 2, 3, 4, 5])('a sound flight has nothing to be named, seed %i', (seed) => {
  expect(namesOf(goodFlight(seed))).toEqual([]);
  expect(namesOf({ ...goodFlight(seed), velocityNedMps: null })).toEqual([]);
});

test.each<[string, (t: Writable) => void]>([
  [
    'angles look like radians',
    (t) => [t.rollDeg, t.pitchDeg, t.headingDeg].forEach((c) => scaleInto(c, Math.PI / 180)),
  ],
  ['positions look like radians', (t) => [t.latDeg, t.lonDeg].forEach((c) => scaleInto(c, Math.PI / 180))],
  ['speeds look like knots', (t) => Object.values(t.velocityNedMps ?? {}).forEach((c) => scaleInto(c, 1 / 0.514444))],
  ['speeds look like km/h', (t) => Object.values(t.velocityNedMps ?? {}).forEach((c) => scaleInto(c, 3.6))],
  [
    'speeds look like feet per second',
    (t) => Object.values(t.velocityNedMps ?? {}).forEach((c) => scaleInto(c, 1 / 0.3048)),
  ],
  ['vertical speed looks upside down', (t) => scaleInto(t.velocityNedMps?.down, -1)],
  [
    'north and east speeds look swapped',
    (t) => {
      const v = t.velocityNedMps;
      if (v) t.velocityNedMps = { north: v.east, east: v.north, down: v.down };
    },
  ],
  ['speeds disagree with positions', (t) => scaleInto(t.velocityNedMps?.north, 0.2)],
  ['no standard deviations', (t) => (t.sigma = null)],
  ['standard deviations of zero', (t) => t.sigma?.downM.fill(0, 17, 18)],
  ['attitude never changes', (t) => [t.rollDeg, t.pitchDeg, t.headingDeg].forEach((c) => c.fill(0))],
])('%s', (name, spoil) => {
  const table = goodFlight();
  spoil(table);
  expect(namesOf(table)).toContain(name);
});

test('a nose kept due north while the course turns is not taken for radians', () => {
  const table = goodFlight();
  const random = randomFrom(2);
  table.headingDeg.forEach((_, i) => (table.headingDeg[i] = 2 + 0.5 * random.normal()));
  expect(namesOf(table)).not.toContain('angles look like radians');
});

test.each([
  ['recorded', false],
  ['missing', true],
])('with speeds %s, a jump of 1 m and a spike are named at their rows', (_, drop) => {
  const table = goodFlight();
  for (let i = 1000; i < table.heightM.length; i++) table.heightM[i] += 1;
  table.latDeg[2500] += 2e-5;
  if (drop) table.velocityNedMps = null;
  const found = trackFindings(buildTrack(table, frame)).filter((f) => f.name === 'jump');
  expect(found.map((f) => [f.fromRow, f.toRow])).toEqual([
    [999, 1000],
    [2499, 2501],
  ]);
  expect(found[0].detail).toMatch(/^(0\.9|1\.0)\d m that the speed/);
});

test('a receiver that stands still for half a second is stuck; every other row written twice is repetition', () => {
  const stuck = goodFlight();
  for (const c of [stuck.latDeg, stuck.lonDeg, stuck.heightM]) c.fill(c[700], 700, 726);
  const found = trackFindings(buildTrack(stuck, frame)).find((f) => f.name === 'stuck');
  expect(found).toMatchObject({
    fromRow: 700,
    toRow: 725,
    detail: 'one position for 0.50 s and 26 rows, while flying 6.0 m',
  });
  const twice = goodFlight();
  for (const c of [twice.latDeg, twice.lonDeg, twice.heightM]) for (let i = 1; i < c.length; i += 2) c[i] = c[i - 1];
  expect(trackFindings(buildTrack(twice, frame)).find((f) => f.name === 'repeated rows')?.detail).toContain(
    '2000 rows (50.0 %)',
  );
});

test('coarse columns that repeat because nothing moved by a digit are not called repeated', () => {
  const table = goodFlight();
  // A drone that creeps at 0.1 m/s, printed to seven decimals (1.1 cm) and centimetres: five rows share a value.
  for (let i = 0; i < table.latDeg.length; i++) {
    table.latDeg[i] = Math.round((47.3 + i * 0.002 * 9e-6) * 1e7) / 1e7;
    table.lonDeg[i] = 13.7;
    table.heightM[i] = 650;
    if (table.velocityNedMps) {
      table.velocityNedMps.north[i] = 0.1;
      table.velocityNedMps.east[i] = 0;
      table.velocityNedMps.down[i] = 0;
    }
  }
  expect(namesOf(table)).toEqual([]);
});

test('a gap and a stretch without a fixed solution are named with their length', () => {
  const table = goodFlight();
  for (let i = 2000; i < table.tNs.length; i++) table.tNs[i] += 3e9;
  table.sigma?.downM.fill(0.4, 300, 350);
  table.velocityNedMps = null;
  const found = trackFindings(buildTrack(table, frame));
  expect(found.find((f) => f.name === 'gap')).toMatchObject({
    fromRow: 1999,
    weight: 'warning',
    detail: '3.020 s without a row; no poses inside',
  });
  expect(found.find((f) => f.name === 'poor stretch')).toMatchObject({ fromRow: 300, toRow: 349 });
});
