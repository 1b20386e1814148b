import { expect, test } from 'vitest';
import { egm96UndulationM } from '../earth/geoid.ts';
import type { Llh } from '../earth/Llh.ts';
import { localFrameAt } from '../earth/LocalFrame.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { buildTrack } from '../trajectory/buildTrack.ts';
import type { LineModel } from './LineModel.ts';
import { lineAgainstTrack } from './lineAgainstTrack.ts';

const frame = localFrameAt([13.7, 47.3, 600]);
const undulationM = egm96UndulationM(13.7, 47.3);

/** Four towers eastwards on feet given as [east, north, height above the frame's origin]. */
const lineOn = (feet: readonly Llh[]): LineModel => ({
  name: 'Test line',
  owner: '',
  voltageKv: 110,
  structures: feet.map((llh, i) => ({
    id: `T${i}`,
    kind: 'suspension',
    footEnuM: frame.enuFromLlh(llh),
    heightM: 30,
    sigmaM: 0.1,
  })),
  components: [],
});
const feet = [0, 250, 500, 750].map((e) => frame.llhFromEnu([e, 0, 0]));

/** A flight past the towers, 30 m beside them and `upM` above their feet. */
function flightAt(upM: number, northM = -30) {
  const llh = Array.from({ length: 200 }, (_, i) => frame.llhFromEnu([4 * i, northM, upM] as Vec3));
  const zero = () => new Float64Array(200);
  return buildTrack(
    {
      tNs: Float64Array.from(llh, (_, i) => i * 4e8),
      lonDeg: Float64Array.from(llh, (x) => x[0]),
      latDeg: Float64Array.from(llh, (x) => x[1]),
      heightM: Float64Array.from(llh, (x) => x[2]),
      rollDeg: zero(),
      pitchDeg: zero(),
      headingDeg: zero(),
      velocityNedMps: null,
      sigma: null,
    },
    frame,
  );
}
const namesOf = (line: LineModel, track: ReturnType<typeof flightAt>) =>
  lineAgainstTrack(line, track).map((f) => f.name);

test('a flight beside its line is left alone', () => {
  for (const upM of [8, 25, 70]) expect(namesOf(lineOn(feet), flightAt(upM))).toEqual([]);
});

test('a flight given above the sea, and a line given above the sea, are named where the geoid is 47 m up', () => {
  expect(undulationM).toBeGreaterThan(40);
  expect(namesOf(lineOn(feet), flightAt(25 - undulationM))).toEqual([
    'heights of the flight look like heights above the sea',
  ]);
  const sunk = feet.map(([lon, lat, h]): Llh => [lon, lat, h - undulationM]);
  expect(namesOf(lineOn(sunk), flightAt(40))).toEqual(['heights of the line look like heights above the sea']);
});

test('a flight far below the ground without the geoid to blame is said to be below the ground', () => {
  expect(namesOf(lineOn(feet), flightAt(-200))).toEqual(['the flight looks below the ground']);
});

test('swapped coordinates and another line are told apart', () => {
  const swapped = feet.map(([lon, lat, h]): Llh => [lat, lon, h]);
  expect(namesOf(lineOn(swapped), flightAt(25))).toEqual(['latitude and longitude look swapped']);
  expect(lineAgainstTrack(lineOn(feet), flightAt(25, 4000))).toEqual([
    { name: 'the flight is elsewhere', weight: 'fault', detail: 'the flight comes no nearer than 4000 m to Test line' },
  ]);
});

test('a line without towers is not compared', () => {
  expect(namesOf(lineOn([]), flightAt(25))).toEqual([]);
});

test('a flight whose heights are feet read as metres is told, where it would be sound in metres', () => {
  // 626 m above the ellipsoid, 26 m above the feet, is 2053.8 ft.
  const found = lineAgainstTrack(lineOn(feet), flightAt(626 / 0.3048 - 600));
  expect(found.map((f) => f.name)).toEqual(['heights of the flight look like feet']);
});
