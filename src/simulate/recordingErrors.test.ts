import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { bodyPoseAt } from './FlightPath.ts';
import { gaussMarkov } from './gaussMarkov.ts';
import { inventWorld } from './inventWorld.ts';
import { TRAJECTORY_COLUMNS, trajectoryRows } from './trajectoryRows.ts';

test('a Gauss-Markov process keeps its deviation and forgets by 1/e in its correlation time, seed 2', () => {
  const x = gaussMarkov(randomFrom(2), 400_000, 0.1, 0.025, 10);
  const mean = (values: Float64Array) => values.reduce((a, b) => a + b, 0) / values.length;
  const power = mean(x.map((v) => v * v));
  const lagged = mean(x.subarray(0, x.length - 100).map((v, i) => v * x[i + 100]!));
  // 4000 correlation times: the variance is known to sqrt(2 / 4000) x about 1 = 2.2 %.
  expect(Math.abs(power / 0.025 ** 2 - 1)).toBeLessThan(0.08);
  expect(Math.abs(lagged / power - Math.exp(-1))).toBeLessThan(0.08);
});

const column = (rows: string[][], name: (typeof TRAJECTORY_COLUMNS)[number]) =>
  rows.map((row) => Number(row[TRAJECTORY_COLUMNS.indexOf(name)]));

test('a trajectory covers every uv frame and its errors have the size that it states, seeds 1 to 4', () => {
  let [squares, count] = [0, 0];
  for (let seed = 1; seed <= 4; seed++) {
    const world = inventWorld(seed);
    const rows = trajectoryRows(world);
    const t = column(rows, 't_ns');
    expect(t[0]).toBeLessThan(world.flight.uvTimes.tNs[0]! - 9e6);
    expect(t.at(-1)).toBeGreaterThan(world.flight.uvTimes.tNs.at(-1)! + 9e6);
    // Errors live for a minute or two: only rows far apart are independent. Two a flight.
    for (const i of [100, rows.length - 100]) {
      const cell = (name: (typeof TRAJECTORY_COLUMNS)[number]) => column([rows[i]!], name)[0]!;
      const pose = bodyPoseAt(world.flight.path, t[i]! * 1e-9);
      const turn = cell('heading_deg') - (pose.yawRad * 180) / Math.PI;
      const [, , heightM] = world.frame.llhFromEnu(pose.positionEnuM);
      squares += ((cell('roll_deg') - (pose.rollRad * 180) / Math.PI) / cell('sd_roll_deg')) ** 2;
      squares += ((turn - 360 * Math.round(turn / 360)) / cell('sd_heading_deg')) ** 2;
      squares += ((cell('height_m') - heightM) / cell('sd_down_m')) ** 2;
      count += 3;
    }
  }
  // Chi-square with 24 degrees of freedom, a little fewer for what correlation is left: 99.9 % within 0.33 and 2.2 of its mean.
  expect(squares / count).toBeGreaterThan(0.3);
  expect(squares / count).toBeLessThan(2.3);
});
