import type { Random } from '../maths/random.ts';
import type { RigidTransform } from '../maths/rigidTransform.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { cloudTile, tileAt, tileBetween } from './cloudTile.ts';
import { groundHeightM } from './inventLine.ts';
import type { RayMap } from './rayMap.ts';

/** The island behind the line: sky with sun haze and clouds, hills, sea, and grassland with walls and a track. */
export interface Landscape {
  readonly tile: Float32Array;
  /** Independent numbers in [0, 1), a tile of them: blades and stones. */
  readonly speckle: Float32Array;
  readonly sunEnu: Vec3;
  /** Elevation of the skyline, rad, by azimuth in equal steps over the circle. */
  readonly skylineRad: Float32Array;
  /** Distance of the coast, m, likewise. */
  readonly coastM: Float32Array;
  /**
   * Straight features of the ground, five numbers each: unit normal (east, north), its product with a point of the middle
   * line, half-width m, and 1 for a track or 0 for a wall.
   */
  readonly strips: Float64Array;
}

const AZIMUTHS = 4096;
/** Half the width over which hills and sky melt: about a node of the map. */
const SKYLINE_SOFT_RAD = 0.0012;

export function inventLandscape(
  random: Random,
  sunEnu: Vec3,
  track: { readonly through: Vec3; readonly along: Vec3 },
): Landscape {
  const tile = cloudTile(random);
  const speckle = tile.map(() => random.uniform());
  const skylineRad = Float32Array.from({ length: AZIMUTHS }, (_, i) => {
    const a = (2 * Math.PI * i) / AZIMUTHS;
    const ridge = tileBetween(tile, 70 * Math.cos(a) + 100, 70 * Math.sin(a) + 100);
    const detail = tileBetween(tile, 300 * Math.cos(a), 300 * Math.sin(a));
    return Math.max(-0.02, 0.085 * (ridge - 0.42) + 0.006 * (detail - 0.5));
  });
  const coastM = Float32Array.from({ length: AZIMUTHS }, (_, i) => {
    const a = (2 * Math.PI * i) / AZIMUTHS;
    return 420 + 900 * tileBetween(tile, 90 * Math.cos(a) + 300, 90 * Math.sin(a) + 40);
  });
  const strips = strip(track.through, track.along, 1.9, 1);
  for (let i = 0; i < 14; i++) {
    const angle = Math.PI * random.uniform();
    const through: Vec3 = [600 * random.uniform() - 50, 500 * random.uniform() - 100, 0];
    strips.push(...strip(through, [Math.cos(angle), Math.sin(angle), 0], 0.45, 0));
  }
  return { tile, speckle, sunEnu, skylineRad, coastM, strips: Float64Array.from(strips) };
}

function strip(through: Vec3, along: Vec3, halfWidthM: number, track: 0 | 1): number[] {
  const k = 1 / Math.hypot(along[0], along[1]);
  const [normalE, normalN] = [-along[1] * k, along[0] * k];
  return [normalE, normalN, through[0] * normalE + through[1] * normalN, halfWidthM, track];
}

/** How much of a colour the air between has replaced by its own at a distance. */
export const hazeAt = (distanceM: number): number => 1 - Math.exp(-distanceM / 3200);
export const HAZE: Vec3 = [186, 198, 208];

/** Paints the landscape at the nodes of a ray map into `out` (three numbers a node, 0 to 255). */
export function paintLandscapeInto(
  out: Float32Array,
  map: RayMap,
  land: Landscape,
  enuFromCamera: RigidTransform,
): void {
  const { rotation: r, translation: c } = enuFromCamera;
  const { tile, sunEnu: sun } = land;
  const groundE = groundHeightM(1, 0);
  const groundN = groundHeightM(0, 1);
  const aboveGroundM = c[2] - groundHeightM(c[0], c[1]);
  const nodes = map.columns * map.rows;
  for (let i = 0, o = 0; i < nodes; i++, o += 3) {
    const x = map.tangents[2 * i]!;
    const y = map.tangents[2 * i + 1]!;
    const k = 1 / Math.sqrt(1 + x * x + y * y);
    const e = k * (r[0] * x + r[1] * y + r[2]);
    const n = k * (r[3] * x + r[4] * y + r[5]);
    const u = k * (r[6] * x + r[7] * y + r[8]);
    const turn = (Math.atan2(n, e) / (2 * Math.PI) + 1) * AZIMUTHS;
    const cell = Math.floor(turn);
    const a0 = cell & (AZIMUTHS - 1);
    const a1 = (cell + 1) & (AZIMUTHS - 1);
    const skyline = land.skylineRad[a0]! + (turn - cell) * (land.skylineRad[a1]! - land.skylineRad[a0]!);
    const towardsSun = e * sun[0] + n * sun[1] + u * sun[2];
    const fall = groundE * e + groundN * n - u;
    const distanceM = fall > 1e-4 ? aboveGroundM / fall : Number.POSITIVE_INFINITY;
    if (distanceM < land.coastM[a0]!) {
      ground(out, o, land, c[0] + distanceM * e, c[1] + distanceM * n, distanceM);
    } else if (u > skyline + SKYLINE_SOFT_RAD && u > -0.004) {
      sky(out, o, tile, e, n, u, towardsSun);
    } else if (u > -0.004) {
      const slope = tileBetween(tile, turn * 0.6, u * 2400 + turn * 0.15);
      const haze = 0.62 - 3 * Math.min(0.08, Math.max(0, skyline - u));
      hazed(out, o, 62 + 46 * slope, 78 + 40 * slope, 60 + 22 * slope, haze);
      const skyShare = (u - skyline) / (2 * SKYLINE_SOFT_RAD) + 0.5;
      if (skyShare > 0) {
        const [red, green, blue] = [out[o]!, out[o + 1]!, out[o + 2]!];
        sky(out, o, tile, e, n, u, towardsSun);
        const rest = 1 - Math.min(1, skyShare);
        out[o] = out[o]! + rest * (red - out[o]!);
        out[o + 1] = out[o + 1]! + rest * (green - out[o + 1]!);
        out[o + 2] = out[o + 2]! + rest * (blue - out[o + 2]!);
      }
    } else {
      // Sea: dark blue-grey, paler with distance and under the sun.
      const ripple = tileAt(tile, e * 900, u * 26000) - 0.5;
      const glitter = Math.max(0, towardsSun) ** 6 * 40;
      hazed(
        out,
        o,
        62 + 16 * ripple + glitter,
        88 + 14 * ripple + glitter,
        108 + 12 * ripple + glitter,
        hazeAt(60 / -u),
      );
    }
  }
}

/** Deep overhead, pale towards the horizon and warm towards the sun, with clouds that flatten towards the horizon. */
function sky(
  out: Float32Array,
  o: number,
  tile: Float32Array,
  e: number,
  n: number,
  u: number,
  towardsSun: number,
): void {
  const up = Math.min(1, Math.max(0, u * 2.2));
  const glow = Math.max(0, towardsSun) ** 12;
  const cloudScale = 60 / (Math.max(0, u) + 0.12);
  const cloud = Math.max(0, tileBetween(tile, e * cloudScale + 200, n * cloudScale) - 0.52) * 1.5 * (0.35 + up);
  out[o] = 196 - 92 * up + 52 * glow + 70 * cloud * (1 - 0.4 * glow);
  out[o + 1] = 208 - 62 * up + 36 * glow + 52 * cloud;
  out[o + 2] = 218 - 22 * up + 8 * glow + 28 * cloud;
}

function hazed(out: Float32Array, o: number, red: number, green: number, blue: number, share: number): void {
  out[o] = red + share * (HAZE[0] - red);
  out[o + 1] = green + share * (HAZE[1] - green);
  out[o + 2] = blue + share * (HAZE[2] - blue);
}

function ground(out: Float32Array, o: number, land: Landscape, east: number, north: number, distanceM: number): void {
  const { tile, speckle } = land;
  const patch = tileBetween(tile, east * 1.1, north * 1.1);
  const tuft = tileBetween(tile, east * 6 + 71, north * 6) - 0.5;
  // Cells of 11 and 33 cm; further off than their pixel they would only flicker.
  const blade =
    (tileAt(speckle, east * 9, north * 9) + tileAt(speckle, east * 3 + 40, north * 3) - 1) *
    Math.min(1, 110 / distanceM);
  const heather = Math.max(0, tileBetween(tile, east * 0.45 + 300, north * 0.45 + 90) - 0.55) * 2;
  const light = 1 + 0.34 * tuft + 0.3 * blade;
  let red = (84 + 44 * patch + 26 * heather) * light;
  let green = (98 + 22 * patch - 20 * heather) * light;
  let blue = (52 + 14 * patch + 16 * heather) * light;
  const soft = 0.15 + distanceM * 0.0012;
  const { strips } = land;
  for (let i = 0; i < strips.length; i += 5) {
    const off = east * strips[i]! + north * strips[i + 1]! - strips[i + 2]!;
    const half = strips[i + 3]!;
    if (off > half + soft + 1 || off < -half - soft - 1) continue;
    const track = strips[i + 4] === 1;
    const away = Math.abs(off + (track ? 1.1 : 0.25) * tuft);
    if (away > half + soft) continue;
    const share = Math.min(1, (half + soft - away) / (2 * soft)) * (track ? 0.75 : 0.8);
    const stone = (track ? 150 : 104) * (1 + 0.5 * blade + 0.3 * tuft);
    red += share * (stone - red);
    green += share * (stone * 0.97 - green);
    blue += share * (stone * 0.9 - blue);
  }
  hazed(out, o, red, green, blue, hazeAt(distanceM));
}
