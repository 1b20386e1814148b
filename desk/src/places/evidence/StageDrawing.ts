import type { OverlayEvents } from '../../overlay/OverlayScene.ts';
import type { Pass } from './Pass.ts';

/** One moment of a pass as the stage draws it and the margin explains it. */
export interface StageDrawing {
  readonly pass: Pass;
  /** Row of the pass's colour poses that the picture was taken from; -1 where it has none. */
  readonly pose: number;
  readonly picture: ImageBitmap | null;
  readonly events: OverlayEvents | null;
  /** null: each event at its own range, the true one. */
  readonly inverseRangePerM: number | null;
  readonly trueRangeM: number;
  readonly rangeSigmaM: number;
  readonly kernelPx: number;
  readonly levels: readonly number[];
}
