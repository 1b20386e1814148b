import type { Vec3 } from '../maths/vec3.ts';

/** Where a target's mark was seen in an image, px, with the standard deviation of each coordinate. */
export interface SeenMark {
  readonly u: number;
  readonly v: number;
  readonly sigmaPx: number;
}

/** One mark of the target: its lamp in the uv image and its disc in the colour image of one instant. */
export interface MarkPair {
  /** Index into the target's marks. */
  readonly mark: number;
  readonly uv: SeenMark | null;
  readonly colour: SeenMark | null;
  /** How fast the lamp moved in the uv image, px/s: tells the clocks of the streams apart. Left out where not known. */
  readonly uvRatePxPerS?: readonly [number, number];
}

/** One instant of a bench run: everything found of the target in both streams. */
export interface BenchFrame {
  /** Names the instant in lists of outliers: the file of the colour frame. */
  readonly name: string;
  readonly tNs: number;
  /** Index into the run's sweeps. */
  readonly sweep: number;
  readonly marks: readonly MarkPair[];
}

export interface TargetMark {
  readonly id: string;
  readonly lampM: Vec3;
  readonly discM: Vec3;
  readonly discDiameterM: number;
  /**
   * Left out where a mark is a lamp and a disc. A target with a pattern (chessboard, coded markers) has lamps, whose `discM` is
   * the lamp itself, and points that are visible alone, whose `lampM` is the point itself; their diameter is 0. Points of a
   * pattern are taken as exact, and the lamps placed among them.
   */
  readonly sees?: 'lamp' | 'visible';
}

/** A target that runs on a rail: straight, at one speed. */
export interface Rail {
  readonly speedMps: number;
  readonly speedSigmaMps: number;
  /** How far the target strays from the straight, even motion, 1 sigma per axis. */
  readonly straysM: number;
}

export interface Sweep {
  readonly name: string;
  readonly fromNs: number;
  readonly toNs: number;
  readonly rangeM: number;
  readonly rangeSigmaM: number;
  readonly rail?: Rail;
}

export interface BenchRun {
  readonly marks: readonly TargetMark[];
  readonly targetSigmaM: number;
  /**
   * Where a lamp sits beside its mark: taken as stated, found from the run alone, or, left out, both weighed together within
   * `targetSigmaM`.
   */
  readonly offsets?: 'stated' | 'estimated';
  readonly sweeps: readonly Sweep[];
  readonly frames: readonly BenchFrame[];
}
