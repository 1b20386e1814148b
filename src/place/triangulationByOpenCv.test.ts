import { spawnSync } from 'node:child_process';
import { expect, test } from 'vitest';
import type { Lens } from '../camera/Lens.ts';
import { distance, subtract, type Vec3 } from '../maths/vec3.ts';
import type { PhotonEvents } from '../photon/PhotonEvents.ts';
import type { FramePoses } from '../sighting/EventRays.ts';
import { raysOfEvents } from '../sighting/raysOfEvents.ts';
import { ERRORS } from './inventedPass.testdata.ts';
import { placeSighting } from './placeSighting.ts';

/**
 * OpenCV projects points through a bent lens into two frames, and triangulates them again from pixels with noise: cv2.projectPoints,
 * cv2.undistortPoints, cv2.triangulatePoints (linear, Hartley & Zisserman 12.2).
 */
const SCRIPT = `
import json, sys
import cv2, numpy as np
given = json.load(sys.stdin)
k = np.array(given['k'], float); d = np.array(given['d'], float)
points = np.array(given['points'], float); views = [(np.array(r, float).reshape(3, 3), np.array(o, float)) for r, o in given['views']]
noise = np.random.default_rng(3).normal(0, 0.5, (2, len(points), 2))
exact, noisy, found, found_noisy = [], [], None, None
for (r, o), n in zip(views, noise):
    t = -r @ o
    px = cv2.projectPoints(points, cv2.Rodrigues(r)[0], t, k, d)[0].reshape(-1, 2)
    exact.append(px); noisy.append(px + n)
def triangulate(pixels):
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 200, 1e-14)
    xy = [cv2.undistortPointsIter(p.reshape(-1, 1, 2), k, d, None, None, criteria).reshape(-1, 2).T for p in pixels]
    matrices = [np.hstack([r, (-r @ o).reshape(3, 1)]) for r, o in views]
    h = cv2.triangulatePoints(matrices[0], matrices[1], xy[0], xy[1])
    return (h[:3] / h[3]).T.tolist()
print(json.dumps({'exactPx': [p.tolist() for p in exact], 'noisyPx': [p.tolist() for p in noisy],
                  'exact': triangulate(exact), 'noisy': triangulate(noisy)}))
`;

const LENS: Lens = {
  widthPx: 1280,
  heightPx: 1024,
  fxPx: 1003,
  fyPx: 998,
  cxPx: 644,
  cyPx: 507,
  k1: -0.14,
  k2: 0.05,
  p1: 4e-4,
  p2: -6e-4,
  k3: 0.01,
};
const POINTS: Vec3[] = [
  [1.2, 0.3, 0.8],
  [-2.1, 4.4, 3.3],
  [3.7, -1.6, -2.9],
  [0.4, 2.2, 5.1],
];
/** x right = east, y down, z = north; two places 14 m apart, 40 m south. */
const LOOKING_NORTH = [1, 0, 0, 0, 0, -1, 0, 1, 0];
const ORIGINS: Vec3[] = [
  [-7, -40, 1],
  [7, -40.5, 0.2],
];
const POSES: FramePoses = {
  count: 2,
  frame: Int32Array.from([0, 1]),
  // A second apart: no motion is read from it, and nothing smears.
  tNs: Float64Array.from([0, 1e9]),
  exposureNs: new Float64Array(2).fill(1e3),
  originEnuM: Float64Array.from(ORIGINS.flat()),
  uvFromEnu: Float64Array.from([...LOOKING_NORTH, ...LOOKING_NORTH]),
};

interface Answer {
  readonly exactPx: [number, number][][];
  readonly noisyPx: [number, number][][];
  readonly exact: Vec3[];
  readonly noisy: Vec3[];
}

function openCv(): Answer {
  const input = JSON.stringify({
    k: [
      [LENS.fxPx, 0, LENS.cxPx],
      [0, LENS.fyPx, LENS.cyPx],
      [0, 0, 1],
    ],
    d: [LENS.k1, LENS.k2, LENS.p1, LENS.p2, LENS.k3],
    points: POINTS,
    views: ORIGINS.map((o) => [LOOKING_NORTH, o]),
  });
  const run = spawnSync('/usr/bin/python3', ['-c', SCRIPT], { input, encoding: 'utf8' });
  if (run.status !== 0)
    throw new Error(`this test needs OpenCV for Python (Debian: python3-opencv).\n${run.error ?? run.stderr}`);
  return JSON.parse(run.stdout);
}

function placed(pixels: readonly (readonly [number, number][])[], point: number): Vec3 {
  const px = [pixels[0][point], pixels[1][point]];
  const events: PhotonEvents = {
    count: 2,
    frame: Int32Array.from([0, 1]),
    tNs: POSES.tNs,
    xPx: Float64Array.from(px, (p) => p[0]),
    yPx: Float64Array.from(px, (p) => p[1]),
    charge: new Float32Array(2).fill(100),
    sigmaPx: new Float32Array(2).fill(0.5),
    flags: new Uint8Array(2),
  };
  const sighting = {
    id: 's',
    rays: Int32Array.from([0, 1]),
    membership: new Float64Array(2).fill(1),
    fromNs: 0,
    toNs: 1e9,
    framesInView: 2,
    seedEnuM: [0, 0, 0] as Vec3,
    logLikelihoodRatio: 20,
    expectedBackground: 0,
    falseAlarmsPerHour: 0,
    suspicions: [],
  };
  const result = placeSighting(sighting, raysOfEvents(events, POSES, LENS, 0), POSES, ERRORS);
  if (result.kind !== 'placed') throw new Error(result.because);
  return result.positionEnuM;
}

test('two views that OpenCV made through a bent lens give its points back, and with noise lie where OpenCV has them', () => {
  const theirs = openCv();
  POINTS.forEach((point, i) => {
    // OpenCV's own undistortion ends at 1e-14, both triangulations in rounding.
    expect(distance(placed(theirs.exactPx, i), point)).toBeLessThan(1e-6);
    expect(distance(theirs.exact[i], point)).toBeLessThan(1e-6);
    const off = subtract(placed(theirs.noisyPx, i), theirs.noisy[i]);
    // Half a pixel of noise moves the point by decimetres in depth. The two minimise other things, the linear method an algebraic
    // residual, ours the angle: of the error they share all but some hundredths.
    const moved = distance(theirs.noisy[i], point);
    expect(moved).toBeGreaterThan(0.005);
    expect(Math.hypot(...off)).toBeLessThan(0.1 * moved);
  });
});
