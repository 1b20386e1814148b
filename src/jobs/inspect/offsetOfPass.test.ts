import { expect, test } from 'vitest';
import { idealLens } from '../../camera/Lens.ts';
import { projectPoint } from '../../camera/projectPoint.ts';
import { randomFrom } from '../../maths/random.ts';
import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import type { FramePoses } from '../../sighting/EventRays.ts';
import { pointInUvM } from '../../sighting/framePoses.ts';
import { raysOfEvents } from '../../sighting/raysOfEvents.ts';
import { countSource, eventsByFrame } from './countSource.ts';
import { offsetOfPass } from './offsetOfPass.ts';

const FRAMES = 120;
/** A camera that flies east 40 m south of a source at the origin and looks north, its eyes at the source's height. */
const POSES: FramePoses = {
  count: FRAMES,
  frame: Int32Array.from({ length: FRAMES }, (_, i) => i),
  tNs: Float64Array.from({ length: FRAMES }, (_, i) => i * 2e7),
  exposureNs: new Float64Array(FRAMES).fill(1e6),
  originEnuM: Float64Array.from(Array.from({ length: FRAMES }, (_, i) => [0.3 * (i - FRAMES / 2), -40, 0]).flat()),
  uvFromEnu: Float64Array.from(Array.from({ length: FRAMES }, () => [1, 0, 0, 0, 0, -1, 0, 1, 0]).flat()),
};

test('a lens whose principal point is off by 6 px loses no light of a discharge: the aperture follows what the pass shows', () => {
  const random = randomFrom(11);
  const lens = idealLens(1280, 1024, 1000);
  const trueLens = { ...lens, cxPx: lens.cxPx + 5, cyPx: lens.cyPx - 3.5 };
  const rows = Array.from({ length: FRAMES }, (_, i) => {
    const px = projectPoint(pointInUvM(POSES, i, [0, 0, 0]), trueLens);
    if (!px) throw new Error('the source is in front of the camera');
    return { frame: i, x: px[0] + 0.9 * random.normal(), y: px[1] + 0.9 * random.normal() };
  });
  const events: PhotonEvents = {
    count: FRAMES,
    frame: Int32Array.from(rows, (r) => r.frame),
    tNs: Float64Array.from(rows, (r) => POSES.tNs[r.frame]),
    xPx: Float64Array.from(rows, (r) => r.x),
    yPx: Float64Array.from(rows, (r) => r.y),
    charge: new Float32Array(FRAMES).fill(100),
    sigmaPx: new Float32Array(FRAMES).fill(0.1),
    flags: new Uint8Array(FRAMES),
  };
  const rays = raysOfEvents(events, POSES, lens, 0.9);
  const sighting = {
    rays: Int32Array.from({ length: rays.count }, (_, i) => i),
    membership: new Float64Array(rays.count).fill(1),
  };
  const offsetPx = offsetOfPass(sighting, rays, events, POSES, lens, [0, 0, 0]);
  // 0.9 px over the root of 120 events is 0.08 px: four of them.
  expect(Math.hypot(offsetPx[0] - 5, offsetPx[1] + 3.5)).toBeLessThan(0.35);
  const counted = (offset: readonly [number, number]): number =>
    countSource(
      eventsByFrame(events, FRAMES),
      () => 1,
      [0, 0, 0],
      [{ fromNs: 0, toNs: 1e12, offsetPx: offset }],
      POSES,
      lens,
      1.03,
      0,
      {
        meanCharge: () => 100,
        foundShare: () => 1,
        missedCharge: () => 0,
        spread2: 0.4,
        relativeSigma: 0.01,
        count: 1000,
      },
      { share: 0, spotSigmaPx: 1.3 },
    )?.counts.reduce((a, b) => a + b, 0) ?? 0;
  // The aperture of three sigmas holds 98.9 % of them.
  expect(counted(offsetPx)).toBeGreaterThan(0.95 * FRAMES);
  expect(counted([0, 0])).toBeLessThan(0.05 * FRAMES);
});
