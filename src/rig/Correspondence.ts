import type { BenchFrame } from './BenchObservations.ts';

/**
 * A lamp in the uv image and the colour pixel of the same point, at one instant: the disc that was seen, moved by the
 * offset between disc and lamp on the target and freed of the disc's perspective bias.
 */
export interface Correspondence {
  readonly frame: BenchFrame;
  readonly mark: number;
  readonly uv: readonly [number, number];
  readonly colour: readonly [number, number];
  /** Of the uv pixel and of the colour pixel, per axis. */
  readonly uvSigmaPx: number;
  readonly colourSigmaPx: number;
  /** Of the colour pixel predicted from the uv pixel against the one seen, per axis, colour px. */
  readonly sigmaPx: number;
  /** 1 / distance of the lamp from the uv camera. */
  readonly inverseRangePerM: number;
}
