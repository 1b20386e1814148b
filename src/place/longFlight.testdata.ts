import { diagonal3 } from '../maths/mat3.ts';
import { randomFrom } from '../maths/random.ts';
import { scale, type Vec3 } from '../maths/vec3.ts';
import type { SightingToPlace } from './gatherDischarges.ts';
import { ERRORS, flyPass, LENS, type RigDraw } from './inventedPass.testdata.ts';
import type { SystematicErrors } from './SystematicErrors.ts';

const DEG = Math.PI / 180;
const LENS_SIGMA = [0.1, 0.1, 0.1, 0.1, 2e-4, 4e-4, 1e-5, 1e-5, 0];

/** A survey-grade trajectory, a lens well known from the bench, a mounting known to 0.03 degrees and 1 ms. */
export const LONG_FLIGHT_ERRORS: SystematicErrors = {
  ...ERRORS,
  attitudeSigmaRad: { roll: 0.01 * DEG, pitch: 0.01 * DEG, heading: 0.02 * DEG },
  mounting: { ...ERRORS.mounting, boresightCovarianceRad2: scale9(diagonal3(1, 1, 1), (0.03 * DEG) ** 2) },
  lensCovariance: Float64Array.from({ length: 81 }, (_, i) => (i % 10 === 0 ? LENS_SIGMA[i / 10] ** 2 : 0)),
};

function scale9(m: ReturnType<typeof diagonal3>, k: number): ReturnType<typeof diagonal3> {
  return m.map((value) => value * k) as unknown as ReturnType<typeof diagonal3>;
}

/** What a rig is wrong by: nothing but this. */
export const rigOff = (boresightDeg: Vec3, timeMs: number): RigDraw => ({
  boresightRad: scale(boresightDeg, DEG),
  leverM: [0, 0, 0],
  timeS: timeMs * 1e-3,
  lens: LENS,
});

export interface LongFlight {
  readonly sourcesEnuM: readonly Vec3[];
  readonly sightings: readonly SightingToPlace[];
}

/**
 * A long line flown there and back: a discharge every ten minutes, so that the errors of the trajectory at one have nothing to do with those
 * at the next, seen from one side on the way there and, the first `seenTwice` of them, from the other on the way back.
 */
export function flyLongLine(seed: number, rig: RigDraw, seenTwice: number, seenOnce: number): LongFlight {
  const random = randomFrom(seed);
  const errors = LONG_FLIGHT_ERRORS;
  const sourcesEnuM = Array.from(
    { length: seenTwice + seenOnce },
    (_, k): Vec3 => [(k - 6.5) * 2.1, 0.2 * (k % 5) - 0.5, 40 + 1.3 * (k % 3)],
  );
  const there = [...sourcesEnuM.keys()];
  const back = there.filter((k) => k < seenTwice).reverse();
  const sightings = [...there, ...back].flatMap((source, place) => {
    const { roll, pitch, heading } = errors.attitudeSigmaRad;
    const pass = {
      positionM: errors.positionSigmaEnuM.map((s) => s * random.normal()) as unknown as Vec3,
      attitudeRad: [roll, pitch, heading].map((s) => s * random.normal()) as unknown as Vec3,
    };
    const flown = flyPass(
      [sourcesEnuM[source]],
      {
        standoffM: [40, 34, 47][source % 3],
        speedMps: 15,
        exposureS: 0.01,
        halfAngleDeg: 20,
        events: 20,
        pixelSigmaPx: 0.5,
        way: place < there.length ? 1 : -1,
        startNs: (50 + 600 * place) * 1e9,
      },
      rig,
      pass,
      random,
    );
    return flown.sightings.map((sighting) => ({ flight: 'long', sighting, errors, ...flown }));
  });
  return { sourcesEnuM, sightings };
}
