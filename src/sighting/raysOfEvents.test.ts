import { expect, test } from 'vitest';
import type { Lens } from '../camera/Lens.ts';
import { idealLens } from '../camera/Lens.ts';
import { rayFromPixel } from '../camera/rayFromPixel.ts';
import { cross, norm } from '../maths/vec3.ts';
import { EVENT_FLAGS } from '../photon/PhotonEvents.ts';
import { PhotonEventsBuilder } from '../photon/PhotonEventsBuilder.ts';
import type { FramePoses } from './EventRays.ts';
import { raysOfEvents } from './raysOfEvents.ts';

const LENS: Lens = { ...idealLens(640, 512, 700), k1: -0.2, k2: 0.05 };
/** Two frames, 4 and 6, of a camera at (1, 2, 3) that looks north: x right is east, y down is down, z forward is north. */
const POSES: FramePoses = {
  count: 2,
  frame: Int32Array.of(4, 6),
  tNs: Float64Array.of(4e7, 6e7),
  exposureNs: Float64Array.of(1e7, 1e7),
  originEnuM: Float64Array.of(1, 2, 3, 1, 2, 3),
  uvFromEnu: Float64Array.of(1, 0, 0, 0, 0, -1, 0, 1, 0, 1, 0, 0, 0, 0, -1, 0, 1, 0),
};
const event = (frame: number, xPx: number, yPx: number, flags = 0) => ({
  frame,
  tNs: frame * 1e7,
  xPx,
  yPx,
  charge: 100,
  sigmaPx: 0.3,
  flags,
});

function raysOf(...events: ReturnType<typeof event>[]) {
  const builder = new PhotonEventsBuilder();
  for (const one of events) builder.add(one);
  return raysOfEvents(builder.finish(), POSES, LENS, 0.4);
}

test('an event in the middle of the image looks along the camera axis, one to the right looks east of it', () => {
  const rays = raysOf(event(4, 319.5, 255.5), event(4, 400, 255.5));
  expect(Array.from(rays.directionEnu.slice(0, 3)).map((x) => Number(x.toFixed(12)))).toEqual([0, 1, 0]);
  expect(rays.directionEnu[3]).toBeGreaterThan(0.1);
  expect(Array.from(rays.originEnuM.slice(3, 6))).toEqual([1, 2, 3]);
});

test('events without a pose, afterglow and hot pixels have no ray, and rows keep naming their event', () => {
  const rays = raysOf(
    event(4, 100, 100),
    event(5, 100, 100),
    event(6, 100, 100, EVENT_FLAGS.afterglow),
    event(6, 200, 100, EVENT_FLAGS.hotPixel),
    event(6, 300, 100),
  );
  expect(Array.from(rays.event)).toEqual([0, 4]);
});

test('sigma is the angle of its pixels, in the corner of a distorted lens too', () => {
  const [u, v] = [30, 40];
  const rays = raysOf(event(4, u, v));
  const angle = (a: readonly [number, number], b: readonly [number, number]) =>
    norm(cross(rayFromPixel(a, LENS)!, rayFromPixel(b, LENS)!));
  // The solid angle of a pixel by finite differences; its root is the pixel's angle, whatever the direction across.
  const spans = angle([u - 0.5, v], [u + 0.5, v]) * angle([u, v - 0.5], [u, v + 0.5]);
  // The two spans are not quite at right angles there, which the product overstates by less than a hundredth.
  expect(rays.sigmaRad[0] / (0.5 * Math.sqrt(spans))).toBeGreaterThan(0.985);
  expect(rays.sigmaRad[0] / (0.5 * Math.sqrt(spans))).toBeLessThan(1.002);
});
