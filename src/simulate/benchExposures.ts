import { randomFrom } from '../maths/random.ts';
import { transformPoint } from '../maths/rigidTransform.ts';
import { norm } from '../maths/vec3.ts';
import { boardPoseAt } from './boardPose.ts';
import { CHANCE } from './chance.ts';
import { meanChargeDn } from './meanCharge.ts';
import { addPhoton, noSpots, type Spots } from './Spots.ts';
import { isInside, seenAt } from './TrueLens.ts';
import { addBackground } from './uvSpots.ts';
import type { BenchSweep, World } from './World.ts';

/** The sweep that a moment of the bench run belongs to: the one that ends last before the next begins. */
export function sweepAt(sweeps: readonly BenchSweep[], tS: number): BenchSweep {
  return sweeps.find((s) => tS < s.toS + 1) ?? sweeps.at(-1)!;
}

export interface BenchExposure {
  readonly spots: Spots;
  readonly gain: number;
  readonly tS: number;
}

/** The photon arrivals of a bench run, any frame in any order: five lamps on a moving board, and the dark events of a room. */
export function benchExposures(world: World): (frame: number) => BenchExposure {
  const { rig, bench } = world;
  const uv = rig.nominal.cameras.uv;
  const chance = randomFrom(world.seed).fork(CHANCE.benchUv);
  const exposureS = bench.uvTimes.exposureNs * 1e-9;
  const seenFrom = (tS: number, sweep: BenchSweep, mark: number) => {
    const at = transformPoint(boardPoseAt(sweep, tS), bench.marks[mark]!.lampM);
    return { px: seenAt(rig.uvLens, at), rangeM: norm(at) };
  };
  return (frame) => {
    const tS = bench.uvTimes.tNs[frame]! * 1e-9;
    const sweep = sweepAt(bench.sweeps, tS);
    const random = chance.fork(frame);
    const charge = meanChargeDn(rig, sweep.gain);
    const spots = noSpots();
    bench.marks.forEach((_, mark) => {
      const own = random.fork(100 + mark);
      const [before, middle, after] = [-0.5, 0, 0.5].map((share) => seenFrom(tS + share * exposureS, sweep, mark));
      if (!before?.px || !middle?.px || !after?.px) return;
      const events = own.poisson(bench.lampEventsAt1M / middle.rangeM ** 2);
      // Over 4 ms the board moves by about a pixel: the straight line between the ends is good to 1e-3 px.
      for (let i = 0; i < events; i++) {
        const w = own.uniform();
        const x = before.px[0] + w * (after.px[0] - before.px[0]);
        const y = before.px[1] + w * (after.px[1] - before.px[1]);
        addPhoton(own, spots, x, y, charge, uv.spotSigmaPx, mark);
      }
    });
    addBackground(random.fork(1), spots, world, charge, 0.4, 0);
    return { spots, gain: sweep.gain, tS };
  };
}

export interface BenchTruthRow {
  readonly frame: number;
  readonly mark: string;
  /** Middle of each camera's own exposure; null where the mark is outside the picture, or has no disc. */
  readonly uvPx: readonly [number, number] | null;
  readonly colourPx: readonly [number, number] | null;
  readonly rangeM: number;
}

/** Where each lamp and each disc really was, frame by frame. */
export function benchTruth(world: World): BenchTruthRow[] {
  const { rig, bench } = world;
  const rows: BenchTruthRow[] = [];
  const hasDiscs = bench.board === 'discs' || bench.board === 'rings';
  for (let frame = 0; frame < bench.uvTimes.tNs.length; frame++) {
    const uvS = bench.uvTimes.tNs[frame]! * 1e-9;
    const colourS = bench.colourTimes.tNs[frame]! * 1e-9;
    const uvFromBoard = boardPoseAt(sweepAt(bench.sweeps, uvS), uvS);
    const thenUvFromBoard = boardPoseAt(sweepAt(bench.sweeps, colourS), colourS);
    for (const mark of bench.marks) {
      const lamp = transformPoint(uvFromBoard, mark.lampM);
      const disc = transformPoint(rig.colourFromUv, transformPoint(thenUvFromBoard, mark.discM));
      const uv = seenAt(rig.uvLens, lamp);
      const colour = seenAt(rig.colourLens, disc);
      rows.push({
        frame,
        mark: mark.id,
        uvPx: uv && isInside(rig.uvLens, uv) ? uv : null,
        colourPx: hasDiscs && colour && isInside(rig.colourLens, colour) ? colour : null,
        rangeM: norm(lamp),
      });
    }
  }
  return rows;
}
