import { spawnSync } from 'node:child_process';
import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { ROOM_CAMERA, renderRoom, type TrueSpot } from './darkRoom.fixture.ts';
import { NOT_A_PHOTON } from './PhotonEvents.ts';
import { PhotonEventsBuilder } from './PhotonEventsBuilder.ts';
import { startPhotonFinder } from './photonFinder.ts';

/**
 * OpenCV on the same frames: dark level and noise as mean and standard deviation of the dark frames, a Gaussian filter of the spot's size, then
 * cv2.connectedComponentsWithStats (8 neighbours) above five standard deviations of the filtered noise, and cv2.SimpleBlobDetector.
 */
const SCRIPT = `
import base64, json, sys
import cv2, numpy as np
given = json.load(sys.stdin)
shape = (given['heightPx'], given['widthPx'])
read = lambda text: np.frombuffer(base64.b64decode(text), np.uint8).reshape(shape).astype(np.float32)
dark = np.stack([read(f) for f in given['dark']])
level, noise = dark.mean(0), float(np.median(dark.std(0)))
kernel = cv2.getGaussianKernel(13, given['spotSigmaPx'])
sigma = noise * float(np.sum((kernel @ kernel.T) ** 2)) ** 0.5
p = cv2.SimpleBlobDetector_Params()
p.minThreshold, p.maxThreshold, p.thresholdStep, p.minRepeatability, p.minDistBetweenBlobs = 40, 250, 10, 1, 4
p.filterByColor, p.blobColor, p.filterByArea, p.minArea, p.maxArea = True, 255, True, 3, 500
p.filterByCircularity = p.filterByConvexity = p.filterByInertia = False
detector = cv2.SimpleBlobDetector_create(p)
out = []
for text in given['frames']:
    g = cv2.GaussianBlur(read(text) - level, (13, 13), given['spotSigmaPx'], borderType=cv2.BORDER_REFLECT) / sigma
    n, labels, stats, centres = cv2.connectedComponentsWithStats((g > 5).astype(np.uint8), connectivity=8)
    regions = [[*centres[i].tolist(), float(g[labels == i].max())] for i in range(1, n)]
    blobs = [[float(k.pt[0]), float(k.pt[1])] for k in detector.detect(np.clip(8 * g, 0, 255).astype(np.uint8))]
    out.append({'regions': regions, 'blobs': blobs})
print(json.dumps({'version': cv2.__version__, 'frames': out}))
`;

interface ByOpenCv {
  /** x, y, and the highest filtered signal over its standard deviation. */
  readonly regions: [x: number, y: number, sigmas: number][];
  readonly blobs: [x: number, y: number][];
}

const FRAMES = 40;
const random = randomFrom(91);
const dark = Array.from({ length: 64 }, () => renderRoom(random, []));
/** Apart from each other and the border, from faint to bright; OpenCV's regions would be one where spots overlap. */
const spotsOf = (): TrueSpot[] =>
  [0, 1, 2, 3, 4, 5].map((i) => ({
    xPx: 25 + 40 * (i % 3) + 12 * random.uniform(),
    yPx: 30 + 40 * Math.floor(i / 3) + 12 * random.uniform(),
    charge: 30 + 220 * random.uniform(),
  }));
const frames = Array.from({ length: FRAMES }, () => renderRoom(random, spotsOf()));

function byOpenCv(): ByOpenCv[] {
  const base64 = (frame: { data: Uint8Array | Uint16Array }) => Buffer.from(frame.data).toString('base64');
  const run = spawnSync('/usr/bin/python3', ['-c', SCRIPT], {
    input: JSON.stringify({ ...ROOM_CAMERA, dark: dark.map(base64), frames: frames.map(base64) }),
    encoding: 'utf8',
    maxBuffer: 1 << 26,
  });
  if (run.status !== 0)
    throw new Error(`this test needs OpenCV for Python (Debian: python3-opencv).\n${run.error ?? run.stderr}`);
  return JSON.parse(run.stdout).frames;
}

const finder = startPhotonFinder(ROOM_CAMERA);
finder.learnFrom(dark);
const builder = new PhotonEventsBuilder();
frames.forEach((frame, k) => {
  finder.addInto(builder, frame, { frame: k, tNs: k * 20e6, gain: 1 });
});
const events = builder.finish();
const eventsOf = (frame: number): [number, number][] => {
  const places: [number, number][] = [];
  for (let i = 0; i < events.count; i++)
    if (events.frame[i] === frame && (events.flags[i] & NOT_A_PHOTON) === 0)
      places.push([events.xPx[i], events.yPx[i]]);
  return places;
};
const opencv = byOpenCv();
const isNear = (places: readonly (readonly number[])[], [x, y]: readonly number[], px: number): boolean =>
  places.some(([u, v]) => Math.hypot(u - x, v - y) < px);
/** Nearer to the threshold than this, read noise and how noise is estimated decide: its sigma over 64 frames is known to a tenth. */
const CLEAR_SIGMAS = 6.5;

/** OpenCV mirrors the picture at its border, which counts the noise there twice. */
const isAtBorder = ([x, y]: readonly number[]): boolean =>
  x < 6 || y < 6 || x > ROOM_CAMERA.widthPx - 7 || y > ROOM_CAMERA.heightPx - 7;

test("what OpenCV's connected components find clearly above the threshold are our events, and our events are components, seed 91", () => {
  let clear = 0;
  let missed = 0;
  let alone = 0;
  opencv.forEach(({ regions }, frame) => {
    const ours = eventsOf(frame);
    for (const region of regions) {
      if (region[2] < CLEAR_SIGMAS || isAtBorder(region)) continue;
      clear++;
      // The middle of a region's pixels lies within half a pixel of the spot's.
      if (!isNear(ours, region, 1.2)) missed++;
    }
    for (const event of ours) if (!isNear(regions, event, 2.5)) alone++;
  });
  // Six spots in each of 40 frames, the faintest of which drown.
  expect(clear).toBeGreaterThan(180);
  expect(missed).toBe(0);
  // Just above our threshold and just below OpenCV's.
  expect(alone).toBeLessThan(0.04 * events.count);
});

test("OpenCV's blob detector sees a blob at 96 of 100 of our events at least, and we an event at as many of its blobs, seed 91", () => {
  let [blobs, ours, blobsAlone, oursAlone] = [0, 0, 0, 0];
  opencv.forEach((found, frame) => {
    const places = eventsOf(frame);
    blobs += found.blobs.length;
    ours += places.length;
    blobsAlone += found.blobs.filter((blob) => !isNear(places, blob, 1.5)).length;
    oursAlone += places.filter((place) => !isNear(found.blobs, place, 1.5)).length;
  });
  expect(blobs).toBeGreaterThan(180);
  // Its steps of threshold pass over some of the faintest: 4 of 235 with OpenCV 4.6.0.
  expect(blobsAlone / blobs).toBeLessThan(0.04);
  expect(oursAlone / ours).toBeLessThan(0.04);
});
