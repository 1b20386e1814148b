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
}

export interface Sweep {
  readonly name: string;
  readonly fromNs: number;
  readonly toNs: number;
  readonly rangeM: number;
  readonly rangeSigmaM: number;
}

export interface BenchRun {
  readonly marks: readonly TargetMark[];
  readonly targetSigmaM: number;
  readonly sweeps: readonly Sweep[];
  readonly frames: readonly BenchFrame[];
}
