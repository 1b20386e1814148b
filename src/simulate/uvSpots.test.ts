import { expect, test } from 'vitest';
import { writtenLlh } from './describe.ts';
import { inventWorld } from './inventWorld.ts';
import { seenAt } from './TrueLens.ts';
import { TRAJECTORY_COLUMNS, trajectoryRows } from './trajectoryRows.ts';
import { flightExposures } from './uvSpots.ts';

const world = inventWorld(1);
const exposureOf = flightExposures(world);
const strongest = world.flight.sources.findIndex((s) => s.id === 'd10');

/** Geodetic to geocentric in closed form: IOGP Guidance Note 7-2, method 9602. */
function ecef(lonDeg: number, latDeg: number, heightM: number): [number, number, number] {
  const [a, f] = [6378137, 1 / 298.257223563];
  const e2 = f * (2 - f);
  const [lon, lat] = [(lonDeg * Math.PI) / 180, (latDeg * Math.PI) / 180];
  const n = a / Math.sqrt(1 - e2 * Math.sin(lat) ** 2);
  return [
    (n + heightM) * Math.cos(lat) * Math.cos(lon),
    (n + heightM) * Math.cos(lat) * Math.sin(lon),
    (n * (1 - e2) + heightM) * Math.sin(lat),
  ];
}

test('the events of a discharge lie where trajectory.csv, line geometry and true mounting put it, on both passes', () => {
  const rows = trajectoryRows(world);
  const cell = (row: number, name: (typeof TRAJECTORY_COLUMNS)[number]) =>
    Number(rows[row]![TRAJECTORY_COLUMNS.indexOf(name)]);
  const source = world.flight.sources[strongest]!;
  if (source.kind !== 'discharge') throw new Error('d10 is a discharge');
  const [sourceLon, sourceLat, sourceHeight] = writtenLlh(world, source.positionEnuM);
  const target = ecef(sourceLon, sourceLat, sourceHeight);
  const seen = Array.from({ length: world.flight.uvTimes.tNs.length / 6 }, (_, i) => 6 * i).filter(
    (k) => !Number.isNaN(exposureOf(k).rangeM[strongest]!),
  );
  const gaps: number[] = [];
  for (const k of seen) {
    const { spots, tS } = exposureOf(k);
    const own = Array.from({ length: spots.count }, (_, i) => i).filter((i) => spots.source[i] === strongest);
    if (own.length < 8) continue;
    const mean = (values: Float64Array) => own.reduce((sum, i) => sum + values[i]!, 0) / own.length;
    // The row next before, and the next, by straight lines: 5 ms of flight bend by far less than a pixel.
    const i = Math.floor(tS * 200);
    const w = tS * 200 - i;
    const at = (name: (typeof TRAJECTORY_COLUMNS)[number]) => cell(i, name) + w * (cell(i + 1, name) - cell(i, name));
    const [lat, lon] = [(at('lat_deg') * Math.PI) / 180, (at('lon_deg') * Math.PI) / 180];
    const d = target.map((x, axis) => x - ecef(at('lon_deg'), at('lat_deg'), at('height_m'))[axis]!) as [
      number,
      number,
      number,
    ];
    const north = -Math.sin(lat) * (Math.cos(lon) * d[0] + Math.sin(lon) * d[1]) + Math.cos(lat) * d[2];
    const east = -Math.sin(lon) * d[0] + Math.cos(lon) * d[1];
    const down = -(Math.cos(lat) * (Math.cos(lon) * d[0] + Math.sin(lon) * d[1]) + Math.sin(lat) * d[2]);
    // Undo heading, pitch and roll one after the other: into the body, forward-right-down.
    const [y, p, r] = (['heading_deg', 'pitch_deg', 'roll_deg'] as const).map((name) => (at(name) * Math.PI) / 180) as [
      number,
      number,
      number,
    ];
    const [x1, y1] = [Math.cos(y) * north + Math.sin(y) * east, -Math.sin(y) * north + Math.cos(y) * east];
    const [x2, z2] = [Math.cos(p) * x1 - Math.sin(p) * down, Math.sin(p) * x1 + Math.cos(p) * down];
    const body = [x2, Math.cos(r) * y1 + Math.sin(r) * z2, -Math.sin(r) * y1 + Math.cos(r) * z2];
    const { rotation: m, translation: t } = world.rig.bodyFromUv;
    const off = body.map((x, axis) => x - t[axis]!) as [number, number, number];
    const px = seenAt(world.rig.uvLens, [
      m[0] * off[0] + m[3] * off[1] + m[6] * off[2],
      m[1] * off[0] + m[4] * off[1] + m[7] * off[2],
      m[2] * off[0] + m[5] * off[1] + m[8] * off[2],
    ])!;
    gaps.push(Math.hypot(px[0] - mean(spots.xPx), px[1] - mean(spots.yPx)));
  }
  expect(gaps.length).toBeGreaterThan(20);
  // 5 cm and 0.03 degrees of trajectory error are about 1.5 px at 40 m; uneven light within the exposure moves the mean by
  // up to 2 px of its 7 px smear. A wrong sign or order of angles would be off by ten times as much.
  gaps.sort((a, b) => a - b);
  expect(gaps[Math.floor(gaps.length / 2)]).toBeLessThan(3);
  expect(gaps.at(-1)).toBeLessThan(8);
});

test('the background is five events a frame, seed 1', () => {
  const { darkEventsPerFrame, daylightEventsPerFrame } = world.flight;
  const frames = 400;
  let events = 0;
  for (let k = 0; k < frames; k++) {
    const { spots } = exposureOf(k * 11);
    for (let i = 0; i < spots.count; i++) if (spots.source[i] === -1 && spots.sigmaPx[i] === Math.fround(1.3)) events++;
  }
  // Poisson: 1 sigma of the mean is sqrt(5 / 400) = 0.11, and daylight goes up and down by 15 %.
  expect(Math.abs(events / frames - darkEventsPerFrame - daylightEventsPerFrame)).toBeLessThan(0.5);
});

test('a frame is the same whichever frames were asked for before it', () => {
  const again = flightExposures(inventWorld(1));
  const [a, b] = [exposureOf(612).spots, again(612).spots];
  expect(b.count).toBe(a.count);
  expect([...b.xPx.subarray(0, b.count)]).toEqual([...a.xPx.subarray(0, a.count)]);
  expect([...b.chargeDn.subarray(0, b.count)]).toEqual([...a.chargeDn.subarray(0, a.count)]);
});
