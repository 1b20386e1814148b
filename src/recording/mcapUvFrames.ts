import { InputError } from '../input/InputError.ts';
import type { FrameEntry } from './FrameIndex.ts';
import { GrowingColumn } from './growingColumn.ts';
import { TOPICS } from './mcapSchemas.ts';
import type { PhotonEventColumns } from './photonEventTable.ts';

/** The name under which frames of a recording stand in its indices. */
export const INSIDE = '(in the recording)';

/** Frames this close to the first or last pose are without one because the recording was cut off. */
const CUT_OFF_NS = 2e9;

/** A message of `uv/events`: one frame with its photon events. */
export interface EventFields {
  readonly frame: number;
  readonly exposure_ns: number;
  readonly gain: number;
  readonly segment: number;
  readonly x_px: readonly number[];
  readonly y_px: readonly number[];
  readonly charge: readonly number[];
  readonly sigma_px: readonly number[];
  readonly flags: readonly number[];
}

/** Frames and events of one segment as columns: an hour has a million events, and as objects they would fill the memory. */
class SegmentRead {
  readonly tNs = new GrowingColumn();
  readonly exposureNs = new GrowingColumn();
  readonly gain = new GrowingColumn();
  readonly eventCount = new GrowingColumn();
  readonly xPx = new GrowingColumn();
  readonly yPx = new GrowingColumn();
  readonly charge = new GrowingColumn();
  readonly sigmaPx = new GrowingColumn();
  readonly flags = new GrowingColumn();

  take(tNs: number, fields: EventFields): void {
    this.tNs.push(tNs);
    this.exposureNs.push(fields.exposure_ns);
    this.gain.push(fields.gain);
    this.eventCount.push(fields.x_px.length);
    for (let k = 0; k < fields.x_px.length; k++) {
      this.xPx.push(fields.x_px[k]);
      this.yPx.push(fields.y_px[k]);
      this.charge.push(fields.charge[k]);
      this.sigmaPx.push(fields.sigma_px[k]);
      this.flags.push(fields.flags[k]);
    }
  }
}

/** The frames and events of a recording, as its messages tell them. */
export class UvFramesRead {
  readonly #segments = new Map<number, SegmentRead>();

  take(tNs: number, fields: EventFields): void {
    const segment = this.#segments.get(fields.segment) ?? new SegmentRead();
    this.#segments.set(fields.segment, segment);
    segment.take(tNs, fields);
  }

  finish(
    file: string,
    notes: string[],
    /** Frames without a pose for want of the end of the file are left out; null to have all. */
    poseNs: Float64Array | null,
  ): { index: FrameEntry[]; events: PhotonEventColumns } {
    const [longest, ...others] = [...this.#segments].sort((a, b) => b[1].tNs.length - a[1].tNs.length || a[0] - b[0]);
    if (longest === undefined) {
      throw new InputError({
        file,
        field: TOPICS.uvEvents.topic,
        found: 'no frame with photon events',
        expected: 'a recording of at least 16 uv frames',
        todo: 'Fewer frames are too few to learn the dark level from; their images are in the file.',
      });
    }
    for (const [segment, frames] of others)
      notes.push(
        `The uv clock was set back: segment ${segment} with ${frames.tNs.length} frames is left out beside segment ${longest[0]} with ${longest[1].tNs.length}.`,
      );
    const read = longest[1];
    const [tNs, exposureNs, gain, eventCount] = [read.tNs, read.exposureNs, read.gain, read.eventCount].map((column) =>
      column.toArray(),
    );
    // A crash or a full disk may take the last poses and leave the last frames; far from any pose it is another fault.
    const firstNs = poseNs?.[0] ?? -Infinity;
    const lastNs = poseNs?.[poseNs.length - 1] ?? Infinity;
    const first = Math.max(
      0,
      tNs.findIndex((t) => !(t < firstNs && t > firstNs - CUT_OFF_NS)),
    );
    let end = tNs.length;
    while (end > first + 1 && tNs[end - 1] > lastNs && tNs[end - 1] < lastNs + CUT_OFF_NS) end--;
    if (first > 0 || end < tNs.length)
      notes.push(
        `${first + tNs.length - end} ultraviolet frames before the first or after the last pose are left out: nothing tells where they were taken.`,
      );
    const sumOf = (from: number, to: number): number => eventCount.subarray(from, to).reduce((sum, n) => sum + n, 0);
    const skipped = sumOf(0, first);
    const count = sumOf(first, end);
    const columnOf = (column: GrowingColumn): Float64Array => column.toArray().slice(skipped, skipped + count);
    const events = {
      count,
      frame: new Int32Array(count),
      tNs: new Float64Array(count),
      xPx: columnOf(read.xPx),
      yPx: columnOf(read.yPx),
      charge: Float32Array.from(columnOf(read.charge)),
      sigmaPx: Float32Array.from(columnOf(read.sigmaPx)),
      flags: Uint8Array.from(columnOf(read.flags)),
    };
    const index: FrameEntry[] = [];
    let row = 0;
    for (let i = first; i < end; i++) {
      const frame = i - first;
      index.push({ frame, tNs: tNs[i], file: INSIDE, offsetBytes: 0, exposureNs: exposureNs[i], gain: gain[i] });
      events.frame.fill(frame, row, row + eventCount[i]);
      events.tNs.fill(tNs[i], row, row + eventCount[i]);
      row += eventCount[i];
    }
    return { index, events };
  }
}
