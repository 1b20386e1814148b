import type { FrameLevel, ProbedDarkness } from './probeFrame.ts';
import type { FilterHits } from './spotFilter.ts';

/** How a dark level is compared with a frame and learned from it: whole numbers, one an image pixel, row by row. */
export interface DarkLevels {
  /** Input of `settle`: dark level and noise, DN. */
  readonly meanDn: Float32Array;
  readonly noiseDn: Float32Array;
  /** Made by `settle`: the nearest whole dark level, and how far from it a pixel still is dark. */
  readonly reference: Uint8Array | Uint16Array;
  readonly clip: Uint8Array | Uint16Array;
  /** Sums of `fold` over dark samples: how many, their differences from the reference, the squares of these. */
  readonly count: Uint8Array | Uint16Array;
  readonly sum: Int16Array | Int32Array;
  readonly squares: Uint16Array | Uint32Array;
}

export interface SettleSigmas {
  /**
   * Standard deviations of a box of 4 x 4 pixels that make the scan look closer at a block of the image; 0 or less looks
   * everywhere. At 0.7 of `threshold` 5 the first look loses 1 in 1000 of the hits of spots of sigma 1 to 2 px that are as bright
   * as the threshold, 1 in 3000 of those a fifth brighter, and 1 in 90 blocks is looked at for its noise.
   */
  readonly firstLook: number;
  /** Standard deviations of the filtered dark frame that make a hit. */
  readonly threshold: number;
  /** Standard deviations of a pixel within which it counts as dark. */
  readonly clip: number;
}

export interface LearningShares {
  /** How far level and variance move towards what a block says, 0 to 1. */
  readonly level: number;
  readonly variance: number;
  /** A pixel with fewer dark samples in the block learns nothing; 2 or more. */
  readonly leastSamples: number;
  readonly leastNoiseDn: number;
  /** For each row modulo FOLD, mean and variance of what rounding took off the levels of its frames, DN and DN². */
  readonly restMean: Float32Array;
  readonly restVariance: Float32Array;
}

/**
 * The passes over whole frames of one camera: matched filter against thresholds, sums of the dark level, and both their
 * maps. Two forms give identical results: SIMD (`simdSpotKernels.ts`) and plain TypeScript (`plainSpotKernels.ts`).
 */
export interface SpotKernels extends DarkLevels {
  readonly form: 'simd' | 'plain';
  /** Where readers may put frames, one place or more; `take` of such an array costs no copy. */
  readonly frames: readonly (Uint8Array | Uint16Array)[];
  /** Makes this the frame that the next calls work on. A frame elsewhere is copied or borrowed until the next `take`. */
  take(data: Uint8Array | Uint16Array): void;
  /** Where a few thousand pixels are that tell a frame's level, and what they read in darkness; `followInto` fills it. */
  readonly probes: ProbedDarkness;
  /** What all pixels of the frame share, in single precision. */
  probe(): FrameLevel;
  /** Makes thresholds, references and clips from mean and noise, in single precision. */
  settle(sigmas: SettleSigmas): void;
  /**
   * Finds the pixels where the filtered frame reaches its threshold + `levelFiltered`, in order of pixel, in the blocks that
   * the first look lets through. No hits in the two outermost rows and columns.
   * @param levelFiltered common shift of the frame times FILTER_GAIN, whole number, |.| < 8000 for 8 bit, < 2^29 for 16
   */
  scanInto(hits: FilterHits, levelFiltered: number): void;
  /**
   * Adds every `rowStep`th row from `firstRow` on to the sums; at most SUM_FRAMES times between two calls of `clearSums`.
   * @param level common shift of the frame, whole DN, |.| <= 255 for 8 bit, < 32768 for 16
   */
  fold(level: number, firstRow: number, rowStep: number): void;
  /** Moves level and noise of every pixel towards what the sums say, in single precision, and clears the sums. */
  learn(shares: LearningShares): void;
  clearSums(): void;
}

/** Rows of a block of the first look, and columns of one: as many as a vector of the kernels holds pixels. */
export const BLOCK_ROWS = 8;
export const BLOCK_COLUMNS = { 8: 16, 16: 8 } as const;

/** Every frame adds one row in FOLD to the running statistics: drift is slow, and a dark frame then costs one pass. */
export const FOLD = 32;
/** Frames that the sums hold without overflow. */
export const SUM_FRAMES = 32;
/** The largest clip for which that is so: 32 * 45² < 2^16, 32 * 8000² < 2^32. A noisier pixel is taken as one of a quarter of that. */
export const MOST_CLIP = { 8: 45, 16: 8000 } as const;
/** Thresholds above any filtered value: where no whole filter fits, or noise is beyond sense. */
export const NEVER = { 8: 30000, 16: 1 << 30 } as const;

export type Depth = 8 | 16;
export const depthOf = (bitDepth: number): Depth => (bitDepth === 8 ? 8 : 16);
