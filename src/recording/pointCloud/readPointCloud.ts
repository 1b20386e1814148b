import { type FileHandle, open, readFile } from 'node:fs/promises';
import { createLazPerf, type LazPerf } from 'laz-perf';
import { InputError } from '../../input/InputError.ts';
import { unreadable } from '../unreadable.ts';
import { HEADER_WINDOW_BYTES, type LasHeader, lasHeader } from './lasHeader.ts';

/** Points of one block, borrowed: the next block overwrites them. Coordinates as the file gives them, 3 numbers a point. */
export interface PointBlock {
  readonly count: number;
  readonly xyz: Float64Array;
  readonly classification: Uint8Array;
}

const BLOCK_POINTS = 1 << 16;
/** What the decoder takes at once lies in its own memory, which ends at 2 GiB. */
const LARGEST_LAZ_BYTES = 1.2e9;
/** Noise, by the ASPRS classes (7: low, 18: high). Withheld points are left out as well. */
const NOISE = new Set([7, 18]);

/**
 * Reads a LAS or LAZ file block by block. Points that are withheld or classed as noise are left out and counted.
 * @returns the header, and how many points were given and left out
 * @throws InputError for what is no such file, or is cut off
 * Source: ASPRS LAS 1.4 R15, "Point data records"; LAZ as laz-perf decodes it.
 */
export async function readPointCloud(
  file: string,
  onHeader: (header: LasHeader) => void,
  onBlock: (block: PointBlock) => void,
): Promise<{ readonly header: LasHeader; readonly given: number; readonly leftOut: number }> {
  const handle = await open(file, 'r').catch((error: unknown) => {
    throw new InputError({
      file,
      found: unreadable(error),
      expected: 'a LAS or LAZ file',
      todo: 'Check the path and the permissions.',
    });
  });
  try {
    const { size } = await handle.stat();
    const window = Buffer.alloc(Math.min(size, HEADER_WINDOW_BYTES));
    await handle.read(window, 0, window.length, 0);
    const header = lasHeader(window, size, file);
    onHeader(header);
    const taker = new BlockTaker(header, onBlock);
    if (header.compressed) await decodeAll(file, size, header, taker);
    else await readAll(handle, header, taker);
    taker.flush();
    return { header, given: taker.given, leftOut: taker.leftOut };
  } finally {
    await handle.close();
  }
}

class BlockTaker {
  readonly #header: LasHeader;
  readonly #onBlock: (block: PointBlock) => void;
  readonly #xyz = new Float64Array(3 * BLOCK_POINTS);
  readonly #classification = new Uint8Array(BLOCK_POINTS);
  readonly #extended: boolean;
  #count = 0;
  given = 0;
  leftOut = 0;

  constructor(header: LasHeader, onBlock: (block: PointBlock) => void) {
    this.#header = header;
    this.#onBlock = onBlock;
    this.#extended = header.pointFormat >= 6;
  }

  take(view: DataView, at: number): void {
    const { scale, offset } = this.#header;
    // Formats 6 to 10 have a byte of flags of their own (bit 2: withheld) before the class; the older ones share one (bit 7).
    const classification = this.#extended ? view.getUint8(at + 16) : view.getUint8(at + 15) & 0x1f;
    const withheld = this.#extended ? (view.getUint8(at + 15) & 4) !== 0 : (view.getUint8(at + 15) & 128) !== 0;
    if (withheld || NOISE.has(classification)) {
      this.leftOut++;
      return;
    }
    const k = 3 * this.#count;
    for (let i = 0; i < 3; i++) this.#xyz[k + i] = view.getInt32(at + 4 * i, true) * scale[i] + offset[i];
    this.#classification[this.#count] = classification;
    if (++this.#count === BLOCK_POINTS) this.flush();
  }

  flush(): void {
    if (this.#count === 0) return;
    this.given += this.#count;
    this.#onBlock({ count: this.#count, xyz: this.#xyz, classification: this.#classification });
    this.#count = 0;
  }
}

async function readAll(handle: FileHandle, header: LasHeader, taker: BlockTaker): Promise<void> {
  const { recordBytes, pointOffset, pointCount } = header;
  const perRead = Math.max(1, Math.floor((4 << 20) / recordBytes));
  const bytes = Buffer.alloc(perRead * recordBytes);
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  for (let done = 0; done < pointCount; done += perRead) {
    const points = Math.min(perRead, pointCount - done);
    await handle.read(bytes, 0, points * recordBytes, pointOffset + done * recordBytes);
    for (let i = 0; i < points; i++) taker.take(view, i * recordBytes);
  }
}

let decoder: Promise<LazPerf> | null = null;

async function decodeAll(file: string, size: number, header: LasHeader, taker: BlockTaker): Promise<void> {
  if (size > LARGEST_LAZ_BYTES)
    throw new InputError({
      file,
      found: `${(size / 1e9).toFixed(1)} GB of LAZ`,
      expected: `at most ${LARGEST_LAZ_BYTES / 1e9} GB in one file`,
      todo: 'Cut the cloud into tiles along the line, or decompress it to LAS; several files may be given.',
    });
  decoder ??= createLazPerf();
  const perf = await decoder;
  const bytes = await readFile(file);
  const at = perf._malloc(bytes.length);
  const point = perf._malloc(header.recordBytes);
  const laszip = new perf.LASZip();
  try {
    perf.HEAPU8.set(bytes, at);
    laszip.open(at, bytes.length);
    const count = laszip.getCount();
    for (let i = 0; i < count; i++) {
      laszip.getPoint(point);
      // Its memory may have grown meanwhile, and the view with it.
      taker.take(new DataView(perf.HEAPU8.buffer, point, header.recordBytes), 0);
    }
  } catch (error) {
    if (error instanceof InputError) throw error;
    throw new InputError({
      file,
      found: `points that cannot be decoded (${String(error).slice(0, 80)})`,
      expected: 'a whole LAZ file',
      todo: 'The file may be cut off; copy it again.',
    });
  } finally {
    laszip.delete();
    perf._free(point);
    perf._free(at);
  }
}
