/** What may become of a frame that came in. Every frame has exactly one fate. */
export const FRAME_FATES = [
  'kept: glow',
  'kept: one a second',
  'kept: warm-up',
  'kept: everything wanted',
  'reduced to events',
  'not kept: no glow near',
  'reduced to events: could not keep up',
  'dropped: could not keep up',
  'dropped: late',
  'dropped: repeated',
  'dropped: unreadable',
  'dropped: disk full',
] as const;
export type FrameFate = (typeof FRAME_FATES)[number];

export type StreamName = 'uv' | 'colour';

/** Counts of fates, by camera; `arrived` is counted on its own, so that the sum can be checked against it. */
export interface LedgerTotals {
  readonly uv: StreamTotals;
  readonly colour: StreamTotals;
}
export interface StreamTotals {
  readonly arrived: number;
  readonly fates: Readonly<Partial<Record<FrameFate, number>>>;
  /** Came out of order, were put right, and then went on like any other. */
  readonly putInOrder: number;
}
