/** One row of an image stream's index, checked; `file` is relative to the folder of the index. */
export interface FrameEntry {
  /** Position in the index, from 0. */
  readonly frame: number;
  /** Middle of the exposure. */
  readonly tNs: number;
  readonly file: string;
  readonly offsetBytes: number;
  readonly exposureNs: number;
  /** Gain setting; 0 for the colour stream. */
  readonly gain: number;
}
export type FrameIndex = readonly FrameEntry[];
