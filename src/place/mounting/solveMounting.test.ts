import { expect, test } from 'vitest';
import { multiply, multiplyVec } from '../../maths/mat3.ts';
import { rotationFromVector } from '../../maths/rotation.ts';
import { add } from '../../maths/vec3.ts';
import { correctionAsRegistered } from './asRegistered.ts';
import { flyCalibration, GOOD_LEGS, LAMPS } from './calibrationFlight.testdata.ts';
import { leftJacobian } from './MountingParameters.ts';
import { mountingEquations, solveMounting } from './solveMounting.ts';

const NEAR_LEGS = GOOD_LEGS.slice(0, 2);

test('every derivative of the residuals agrees with central differences, near the solution and a third of a degree from the nominal mounting, seed 3', () => {
  const { problem, truth } = flyCalibration({ legs: NEAR_LEGS, raysPerView: 3, surveyed: true }, 3);
  const equations = mountingEquations(
    problem,
    problem.points.map((point) => point.positionEnuM),
  );
  const { total } = equations.columns;
  const at = Float64Array.from(equations.start);
  at.set(truth);
  const analytic = new Float64Array(equations.rows * total);
  equations.evaluateInto(new Float64Array(equations.rows), analytic, at);
  const steps = Array.from({ length: total }, (_, i) =>
    i < 3 ? 1e-6 : i < 6 ? 1e-5 : i === 6 ? 1e-2 : i < equations.columns.point(0) ? 1e-3 : 1e-5,
  );
  const seen = new Float64Array(equations.rows);
  const residualsAt = (column: number, step: number): Float64Array => {
    const moved = Float64Array.from(at);
    moved[column] += step;
    equations.evaluateInto(seen, null, moved);
    return Float64Array.from(seen);
  };
  for (let column = 0; column < total; column++) {
    const plus = residualsAt(column, steps[column]);
    const minus = residualsAt(column, -steps[column]);
    let largest = 0;
    let worst = 0;
    for (let row = 0; row < equations.rows; row++) {
      const numeric = (plus[row] - minus[row]) / (2 * steps[column]);
      largest = Math.max(largest, Math.abs(numeric));
      worst = Math.max(worst, Math.abs(numeric - analytic[row * total + column]));
    }
    expect(largest, `column ${column}`).toBeGreaterThan(0);
    // Sensitivities take the ray as passing through the point; it passes by at less than 0.002 rad here.
    // Time is stepped by the 10 ms over which velocity and turn are taken (between two rows of the trajectory the turn is
    // constant: a short step would see the stairs of the interpolation); the swing bends by 1 % over them.
    expect(worst / largest, `column ${column}`).toBeLessThan(column === 6 ? 2e-2 : 4e-3);
  }
});

test('a rotation vector grows as its left Jacobian says, to a millionth at a degree', () => {
  const b = [0.009, -0.012, 0.007] as const;
  const d = [3e-4, 5e-4, -4e-4] as const;
  const whole = rotationFromVector(add(b, d));
  const parts = multiply(rotationFromVector(multiplyVec(leftJacobian(b), d)), rotationFromVector(b));
  // Second order in d: half of 0.015 times the square of 7e-4.
  whole.forEach((value, i) => {
    expect(Math.abs(value - parts[i])).toBeLessThan(1e-8);
  });
  const plain = multiply(rotationFromVector(d), rotationFromVector(b));
  expect(Math.max(...whole.map((value, i) => Math.abs(value - plain[i])))).toBeGreaterThan(1e-6);
});

test('without any error and without priors the mounting comes back to micrometres, microradians and microseconds, seed 8', () => {
  const { problem, truth } = flyCalibration(
    { legs: GOOD_LEGS.slice(0, 4), raysPerView: 25, surveyed: true, quiet: true },
    8,
  );
  const solution = solveMounting({ ...problem, prior: problem.prior.map(() => false) });
  if (solution.kind === 'refused') throw new Error(solution.because);
  // Between rows of 100 Hz the trajectory is interpolated: attitude that swings by 5 degrees at 4 rad/s strays 2e-5 rad
  // from constant rate between them; averaged over 400 rays that leaves a few microradians, and their effects below.
  const worst = (from: number, to: number): number =>
    Math.max(...truth.slice(from, to).map((value, i) => Math.abs(solution.correction[from + i] - value)));
  expect(worst(0, 3)).toBeLessThan(5e-6);
  expect(worst(3, 6)).toBeLessThan(5e-4);
  expect(worst(6, 7)).toBeLessThan(1e-5);
});

test('places found by the rays themselves agree with the lamps where none is surveyed, seed 12', () => {
  const { problem } = flyCalibration({ legs: GOOD_LEGS.slice(0, 4), raysPerView: 25, surveyed: false }, 12);
  const solution = solveMounting(problem);
  if (solution.kind === 'refused') throw new Error(solution.because);
  solution.pointsEnuM.forEach((point, i) => {
    for (let c = 0; c < 3; c++) {
      const column = solution.columns.point(i) + c;
      const sigma = Math.sqrt(solution.covariance.get(column, column));
      expect(Math.abs(point[c] - LAMPS[i][c])).toBeLessThan(4 * sigma);
      // Trajectories of 6 mm in four passes: the lamps cannot be much worse than a few centimetres.
      expect(sigma).toBeLessThan(0.05);
    }
  });
});

test('a lamp whose survey is wrong by a metre does not spoil the mounting, seed 21', () => {
  const { problem, truth } = flyCalibration({ legs: GOOD_LEGS.slice(0, 6), raysPerView: 20, surveyed: true }, 21);
  const [x, y, z] = problem.points[1].positionEnuM;
  const points = problem.points.map((point, i) =>
    i === 1 ? { ...point, positionEnuM: [x + 0.6, y - 0.7, z + 0.4] as const } : point,
  );
  const solution = solveMounting({ ...problem, points });
  if (solution.kind === 'refused') throw new Error(solution.because);
  const deg = 180 / Math.PI;
  // A metre at 25 m is 2.3 degrees; a fourth of the lamps taken in full would turn the camera by half a degree.
  for (let i = 0; i < 3; i++) expect(Math.abs(solution.correction[i] - truth[i]) * deg).toBeLessThan(0.05);
});

test('with the lens held as registered, the best mounting is the one that a solution with a perfect lens finds, seed 4', () => {
  const { problem } = flyCalibration({ legs: NEAR_LEGS, raysPerView: 20, surveyed: true }, 4);
  const solution = solveMounting(problem);
  const exact = new Float64Array(81);
  const held = solveMounting({
    ...problem,
    views: problem.views.map((view) => ({ ...view, errors: { ...view.errors, lensCovariance: exact } })),
  });
  if (solution.kind === 'refused' || held.kind === 'refused') throw new Error('not solved');
  const asRegistered = correctionAsRegistered(solution);
  for (let i = 0; i < 7; i++) {
    const sigma = Math.sqrt(held.covariance.get(i, i));
    // The same law by two ways; what is left is the robust weights, which differ a little.
    expect(Math.abs(asRegistered[i] - held.correction[i])).toBeLessThan(0.05 * sigma);
  }
});
