import { compose, inverse, type RigidTransform } from '../maths/rigidTransform.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { inventLandscape, paintLandscapeInto } from './background.ts';
import { CHANCE, flightChance } from './chance.ts';
import { enuFromCameraAt } from './FlightPath.ts';
import { addGrain } from './grain.ts';
import { lineStrokes } from './lineStrokes.ts';
import { paintStrokes } from './paintStrokes.ts';
import { type RayMap, rayMap } from './rayMap.ts';
import type { World } from './World.ts';

/** Share of the exposure, from its middle, at which its two halves are taken. */
const MOMENTS = [-0.25, 0.25];
/** The landscape is painted at every second pixel: it is far, soft, and the dearest part of a picture. */
const LANDSCAPE_STEP = 2;

/** Prepares the colour camera of the flight; the returned function takes one RGB picture. */
export function colourCamera(world: World): (frame: number) => Uint8Array {
  const { rig, flight, line } = world;
  const lens = rig.colourLens;
  const { widthPx, heightPx } = lens;
  const chance = flightChance(world, CHANCE.colour);
  const sunEnu: Vec3 = [
    Math.sin(flight.sunAzimuthRad) * Math.cos(flight.sunElevationRad),
    Math.cos(flight.sunAzimuthRad) * Math.cos(flight.sunElevationRad),
    Math.sin(flight.sunElevationRad),
  ];
  const vehicle = flight.sources.flatMap((s) => (s.kind === 'trap' && s.trap === 'moving source' ? [s] : []))[0]!;
  const land = inventLandscape(chance.fork(-1), sunEnu, { through: vehicle.startEnuM, along: vehicle.velocityMps });
  const rows = Float64Array.from(lineStrokes(line, chance.fork(-2)).rows);
  const map = rayMap(lens, LANDSCAPE_STEP);
  const coarse = new Float32Array(3 * map.columns * map.rows);
  const bodyFromColour = compose(rig.bodyFromUv, inverse(rig.colourFromUv));
  const exposureS = flight.colourTimes.exposureNs * 1e-9;
  const poseAt = (tS: number): RigidTransform => enuFromCameraAt(flight.path, world.frame, bodyFromColour, tS);
  const dimming = vignette(widthPx, heightPx);
  const halves = [
    new Uint8ClampedArray(3 * widthPx * heightPx),
    new Uint8ClampedArray(3 * widthPx * heightPx),
  ] as const;

  return (frame) => {
    const tS = flight.colourTimes.tNs[frame]! * 1e-9 + rig.timeOffsetS;
    paintLandscapeInto(coarse, map, land, poseAt(tS));
    enlargeInto(halves[0], coarse, map, widthPx, heightPx);
    halves[1].set(halves[0]);
    MOMENTS.forEach((share, half) => {
      const canvas = { rgb: halves[half as 0 | 1], widthPx, heightPx };
      paintStrokes(canvas, rows, poseAt(tS + share * exposureS), lens, sunEnu, land.tile);
    });
    const picture = new Uint8Array(halves[0].length);
    exposeInto(picture, halves[0], halves[1], dimming);
    addGrain(chance.fork(frame), picture, widthPx, 1.1, 0.035);
    return picture;
  };
}

/** Both halves of the exposure together, less what the lens loses towards the corners. */
function exposeInto(
  picture: Uint8Array,
  first: Uint8ClampedArray,
  second: Uint8ClampedArray,
  dimming: Float32Array,
): void {
  for (let p = 0, i = 0; p < dimming.length; p++, i += 3) {
    const k = dimming[p]! / 2;
    picture[i] = k * (first[i]! + second[i]!);
    picture[i + 1] = k * (first[i + 1]! + second[i + 1]!);
    picture[i + 2] = k * (first[i + 2]! + second[i + 2]!);
  }
}

/** Light that reaches each pixel, 1 in the middle: about a sixth is lost in the corners. */
function vignette(widthPx: number, heightPx: number): Float32Array {
  const out = new Float32Array(widthPx * heightPx);
  const k = 1 / ((widthPx / 2) ** 2 + (heightPx / 2) ** 2);
  for (let v = 0, i = 0; v < heightPx; v++) {
    for (let u = 0; u < widthPx; u++, i++) {
      out[i] = 1 - 0.17 * ((u - widthPx / 2) ** 2 + (v - heightPx / 2) ** 2) * k;
    }
  }
  return out;
}

/** Twice the size, by linear interpolation. */
function enlargeInto(
  rgb: Uint8ClampedArray,
  coarse: Float32Array,
  map: RayMap,
  widthPx: number,
  heightPx: number,
): void {
  const rowLength = 3 * map.columns;
  for (let v = 0; v < heightPx; v++) {
    const top = (v >> 1) * rowLength;
    const below = v & 1 ? rowLength : 0;
    let o = 3 * v * widthPx;
    for (let u = 0; u < widthPx; u++) {
      const a = top + 3 * (u >> 1);
      const beside = u & 1 ? 3 : 0;
      for (let k = 0; k < 3; k++) {
        rgb[o++] =
          (coarse[a + k]! + coarse[a + beside + k]! + coarse[a + below + k]! + coarse[a + below + beside + k]!) / 4;
      }
    }
  }
}
