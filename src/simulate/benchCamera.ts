import { type Random, randomFrom } from '../maths/random.ts';
import { compose, type RigidTransform, transformPoint } from '../maths/rigidTransform.ts';
import { sweepAt } from './benchExposures.ts';
import { benchScene } from './benchScene.ts';
import { isBrightAt } from './boardPattern.ts';
import { boardPoseAt } from './boardPose.ts';
import { CHANCE } from './chance.ts';
import { addGrain } from './grain.ts';
import { rayMap } from './rayMap.ts';
import { seenAt } from './TrueLens.ts';
import type { World } from './World.ts';

/** Offsets and weights of the samples that make up a pixel: a lens blur of 0.6 px (1 sigma), and a moment of the exposure each. */
const SAMPLES = Array.from({ length: 16 }, (_, i) => {
  const du = ((i % 4) - 1.5) * 0.62;
  const dv = (Math.floor(i / 4) - 1.5) * 0.62;
  // The moments are dealt so that rows, columns and halves of the pattern all have the same mean moment.
  const moment = [0, 3, 1, 2, 2, 1, 3, 0, 3, 0, 2, 1, 1, 2, 0, 3][i]!;
  return { du, dv, moment, weight: Math.exp(-(du * du + dv * dv) / (2 * 0.6 * 0.6)) };
});
const WEIGHT_SUM = SAMPLES.reduce((sum, s) => sum + s.weight, 0);
const MOMENTS = [-0.375, -0.125, 0.125, 0.375];

/** Level of the board at a place of it, or -1 beside it: dark, lit unevenly, with what is bright on it, on a pole. */
function boardLevel(x: number, y: number, world: World): number {
  const { boardSizeM } = world.bench;
  const [halfW, halfH] = [boardSizeM[0] / 2, boardSizeM[1] / 2];
  if (Math.abs(x) > halfW || Math.abs(y) > halfH) {
    return y > halfH && y < halfH + 1.1 && Math.abs(x) < 0.022 ? 96 : -1;
  }
  const light = 1 + 0.18 * x - 0.25 * y;
  return (isBrightAt(x, y, world.bench) ? 208 : 30) * light;
}

/** Prepares the colour camera of the bench; the returned function takes one RGB picture. */
export async function benchCamera(world: World): Promise<(frame: number) => Uint8Array> {
  const { rig, bench } = world;
  const { widthPx, heightPx } = rig.colourLens;
  const chance = randomFrom(world.seed).fork(CHANCE.benchColour);
  const scene = await benchScene(chance.fork(-1), widthPx, heightPx);
  const map = rayMap(rig.colourLens, 1);
  const exposureS = bench.colourTimes.exposureNs * 1e-9;
  return (frame) => {
    const tS = bench.colourTimes.tNs[frame]! * 1e-9;
    const sweep = sweepAt(bench.sweeps, tS);
    const poses = MOMENTS.map((share) => compose(rig.colourFromUv, boardPoseAt(sweep, tS + share * exposureS)));
    const picture = new Uint8Array(scene);
    paintBoard(picture, world, poses, map);
    addGrain(noiseOf(chance, frame), picture, widthPx, 1.6, 0.05);
    return picture;
  };
}

const noiseOf = (chance: Random, frame: number): Random => chance.fork(frame);

function paintBoard(
  picture: Uint8Array,
  world: World,
  poses: readonly RigidTransform[],
  map: ReturnType<typeof rayMap>,
): void {
  const lens = world.rig.colourLens;
  const { boardSizeM } = world.bench;
  let [left, right, top, bottom] = [lens.widthPx, -1, lens.heightPx, -1];
  for (const [x, y] of [
    [-0.5, -0.5],
    [0.5, -0.5],
    [-0.5, 0.5],
    [0.5, 0.5],
    [0, 2.1],
  ] as const) {
    const px = seenAt(lens, transformPoint(poses[0]!, [x * boardSizeM[0], y * boardSizeM[1], 0]));
    if (!px) continue;
    left = Math.min(left, Math.floor(px[0]) - 4);
    right = Math.max(right, Math.ceil(px[0]) + 4);
    top = Math.min(top, Math.floor(px[1]) - 4);
    bottom = Math.max(bottom, Math.ceil(px[1]) + 4);
  }
  left = Math.max(0, left);
  top = Math.max(0, top);
  right = Math.min(lens.widthPx - 1, right);
  bottom = Math.min(lens.heightPx - 1, bottom);
  const { tangents, columns } = map;
  for (let v = top; v <= bottom; v++) {
    for (let u = left; u <= right; u++) {
      const at = 2 * (v * columns + u);
      const x0 = tangents[at]!;
      const y0 = tangents[at + 1]!;
      const [xu, yu] = [tangents[at + 2]! - x0, tangents[at + 3]! - y0];
      const [xv, yv] = [tangents[at + 2 * columns]! - x0, tangents[at + 2 * columns + 1]! - y0];
      const i = 3 * (v * lens.widthPx + u);
      const behind = picture[i]!;
      let sum = 0;
      let covered = 0;
      for (const { du, dv, moment, weight } of SAMPLES) {
        const { rotation: r, translation: t } = poses[moment]!;
        const dx = x0 + du * xu + dv * xv;
        const dy = y0 + du * yu + dv * yv;
        // Where the ray meets the plane of the board: s * d, with the board's third axis as normal.
        const s = (r[2] * t[0] + r[5] * t[1] + r[8] * t[2]) / (r[2] * dx + r[5] * dy + r[8]);
        const [px, py, pz] = [s * dx - t[0], s * dy - t[1], s - t[2]];
        const level = boardLevel(r[0] * px + r[3] * py + r[6] * pz, r[1] * px + r[4] * py + r[7] * pz, world);
        if (level < 0) sum += weight * behind;
        else {
          sum += weight * level;
          covered += weight;
        }
      }
      if (covered === 0) continue;
      const value = sum / WEIGHT_SUM;
      const share = covered / WEIGHT_SUM;
      picture[i] = value;
      picture[i + 1] = value + (1 - share) * (picture[i + 1]! - behind);
      picture[i + 2] = value + (1 - share) * (picture[i + 2]! - behind);
    }
  }
}
