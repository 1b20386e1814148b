import type { GreyFrame } from '../camera/GreyFrame.ts';
import { decodeGreyImage } from './decodeImage.ts';
import type { FrameIndex } from './FrameIndex.ts';
import type { UvStream } from './fields.ts';
import { insideFolder } from './insideFolder.ts';
import { RawFrames } from './rawFrames.ts';

/** The ultraviolet frames of a recording, one at a time. Calls must not overlap; reading in order is fastest. */
export interface UvFrames {
  readonly count: number;
  /** Frame `i` of the index, in memory of its own. */
  read(i: number): Promise<GreyFrame>;
  /** As `read`, but valid only until the next call: no copy where the encoding allows it. */
  borrow(i: number): Promise<GreyFrame>;
  /** Writes frame `i` to `out` (widthPx * heightPx values of the stream's bit depth). */
  readInto(out: Uint8Array | Uint16Array, i: number): Promise<void>;
  close(): Promise<void>;
}

/** Images decoded ahead of the one that is asked for. */
const IMAGES_AHEAD = 4;

/**
 * Opens the frames of a uv stream: raw frames read as they are asked for, PNG and TIFF decoded a few frames ahead.
 * @param index as `openFlight` or `openBench` gives it, or a part of it
 * @param into  memory of whoever works on the frames, one frame long, where raw ones are read to; by default memory of the reader
 * @throws InputError (from the reading calls) for a frame that is missing, cut off, damaged, or of another size or depth
 */
export async function openUvFrames(
  folder: string,
  stream: UvStream,
  index: FrameIndex,
  into?: Uint8Array | Uint16Array,
): Promise<UvFrames> {
  const indexFile = insideFolder(folder, stream.index, { file: folder, field: 'streams.uv.index' });
  const borrowing =
    stream.encoding === 'raw'
      ? rawBorrowing(folder, stream, index, indexFile, into)
      : imageBorrowing(folder, stream, index, indexFile);
  const borrow = (i: number): Promise<GreyFrame> => {
    if (!(Number.isInteger(i) && i >= 0 && i < index.length)) {
      throw new RangeError(`frame ${i} of ${index.length} asked for`);
    }
    return borrowing.borrow(i);
  };
  return {
    count: index.length,
    borrow,
    async read(i) {
      const frame = await borrow(i);
      return stream.encoding === 'raw' ? { ...frame, data: frame.data.slice() } : frame;
    },
    async readInto(out, i) {
      out.set((await borrow(i)).data);
    },
    close: borrowing.close,
  };
}

interface Borrowing {
  borrow(i: number): Promise<GreyFrame>;
  close(): Promise<void>;
}

function rawBorrowing(
  folder: string,
  { widthPx, heightPx, bitDepth }: UvStream,
  index: FrameIndex,
  indexFile: string,
  into?: Uint8Array | Uint16Array,
): Borrowing {
  const count = widthPx * heightPx;
  const fits = into?.length === count && into.BYTES_PER_ELEMENT === bitDepth / 8;
  const data = fits ? into : bitDepth === 8 ? new Uint8Array(count) : new Uint16Array(count);
  const frames = new RawFrames(folder, index, indexFile, bitDepth / 8, data);
  return {
    async borrow(i) {
      frames.read(i);
      return { widthPx, heightPx, data };
    },
    close: async () => frames.close(),
  };
}

function imageBorrowing(folder: string, stream: UvStream, index: FrameIndex, indexFile: string): Borrowing {
  const ahead = new Map<number, Promise<GreyFrame>>();
  const decode = (i: number): Promise<GreyFrame> => {
    const file = insideFolder(folder, index[i].file, { file: indexFile, row: index[i].frame + 2, field: 'file' });
    const decoding = decodeGreyImage(file, stream);
    // The fault is told when the frame is asked for.
    decoding.catch(() => undefined);
    return decoding;
  };
  return {
    async borrow(i) {
      for (const frame of [...ahead.keys()]) if (frame < i || frame > i + IMAGES_AHEAD) ahead.delete(frame);
      for (let k = i; k <= Math.min(i + IMAGES_AHEAD, index.length - 1); k++)
        if (!ahead.has(k)) ahead.set(k, decode(k));
      const frame = ahead.get(i)!;
      ahead.delete(i);
      return frame;
    },
    async close() {
      await Promise.allSettled(ahead.values());
      ahead.clear();
    },
  };
}
