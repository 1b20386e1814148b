import { type FileHandle, open } from 'node:fs/promises';
import { endianness } from 'node:os';
import { InputError } from '../input/InputError.ts';
import type { FrameIndex } from './FrameIndex.ts';
import { insideFolder } from './insideFolder.ts';
import { unreadable } from './unreadable.ts';

/** Block of frames read at once: large enough that the disk streams, small enough to stay in the processor's cache. */
const BLOCK_BYTES = 8 << 20;

interface Block {
  readonly first: number;
  readonly end: number;
  readonly bytes: Buffer;
}

/** Raw frames of one stream, read in blocks, the next block while the last one is worked on. */
export class RawFrames {
  private readonly folder: string;
  private readonly index: FrameIndex;
  private readonly indexFile: string;
  private readonly frameBytes: number;
  private readonly swapBytes: boolean;
  private readonly blockFrames: number;
  private readonly spare: Buffer[] = [];
  private current: Block | null = null;
  private ahead: Promise<Block> | null = null;
  private handle: { file: string; handle: FileHandle } | null = null;

  /** @param space where the blocks are read to, if it holds two frames or more */
  constructor(
    folder: string,
    index: FrameIndex,
    indexFile: string,
    frameBytes: number,
    bytesPerPixel: number,
    space: Uint8Array = new Uint8Array(0),
  ) {
    this.folder = folder;
    this.index = index;
    this.indexFile = indexFile;
    this.frameBytes = frameBytes;
    // Two blocks: one is worked on while the other is filled.
    const inHalf = Math.min(BLOCK_BYTES, space.length >> 1) / frameBytes;
    this.blockFrames = Math.max(1, Math.floor(inHalf >= 1 ? inHalf : BLOCK_BYTES / frameBytes));
    if (inHalf >= 1)
      for (const half of [0, 1])
        this.spare.push(
          Buffer.from(
            space.buffer,
            space.byteOffset + half * this.blockFrames * frameBytes,
            this.blockFrames * frameBytes,
          ),
        );
    this.swapBytes = bytesPerPixel === 2 && endianness() === 'BE';
  }

  /** Bytes of one frame, native byte order, at an even address. Borrowed: valid until the next call. */
  async borrow(i: number): Promise<Buffer> {
    if (this.current === null || i < this.current.first || i >= this.current.end) {
      const awaited = this.ahead;
      this.ahead = null;
      // Where reading ahead failed, reading again says so, if the fault concerns this frame at all.
      const block = awaited === null ? null : await awaited.catch(() => null);
      if (this.current !== null) this.spare.push(this.current.bytes);
      if (block !== null && i >= block.first && i < block.end) this.current = block;
      else {
        if (block !== null) this.spare.push(block.bytes);
        this.current = await this.readBlock(i);
      }
      const next = this.current.end;
      if (next < this.index.length) {
        const reading = this.readBlock(next);
        // The fault is told when the block is wanted, not as an unhandled rejection before.
        reading.catch(() => undefined);
        this.ahead = reading;
      }
    }
    const from = (i - this.current.first) * this.frameBytes;
    return this.current.bytes.subarray(from, from + this.frameBytes);
  }

  async close(): Promise<void> {
    await this.ahead?.catch(() => undefined);
    this.ahead = null;
    await this.handle?.handle.close();
    this.handle = null;
  }

  /** Reads the frames from `first` on that follow each other without a gap in one file, up to a block. */
  private async readBlock(first: number): Promise<Block> {
    const most = this.blockFrames;
    const start = this.index[first];
    let wantedEnd = first + 1;
    while (
      wantedEnd < this.index.length &&
      wantedEnd - first < most &&
      this.index[wantedEnd].file === start.file &&
      this.index[wantedEnd].offsetBytes === start.offsetBytes + (wantedEnd - first) * this.frameBytes
    ) {
      wantedEnd++;
    }
    const bytes = this.spare.pop() ?? Buffer.from(new ArrayBuffer(most * this.frameBytes));
    const wanted = (wantedEnd - first) * this.frameBytes;
    const where = { file: this.indexFile, row: first + 2, field: 'file' };
    let got = 0;
    try {
      const handle = await this.open(start.file, where);
      while (got < wanted) {
        const { bytesRead } = await handle.read(bytes, got, wanted - got, start.offsetBytes + got);
        if (bytesRead === 0) break;
        got += bytesRead;
      }
    } catch (error) {
      if (error instanceof InputError) throw error;
      throw new InputError({
        ...where,
        found: `${start.file}: ${unreadable(error)}`,
        expected: 'the frames of the stream',
        todo: 'Copy the recording again.',
      });
    }
    const end = first + Math.floor(got / this.frameBytes);
    if (end === first) {
      throw new InputError({
        ...where,
        found: `${start.file} ending at byte ${start.offsetBytes + got}`,
        expected: `a frame up to byte ${start.offsetBytes + this.frameBytes}`,
        todo: 'The file is cut off; copy it again, or leave its rows out of the index so that they count as lost.',
      });
    }
    if (this.swapBytes) bytes.subarray(0, wanted).swap16();
    return { first, end, bytes };
  }

  private async open(file: string, where: { file: string; row: number; field: string }): Promise<FileHandle> {
    if (this.handle?.file !== file) {
      await this.handle?.handle.close();
      this.handle = null;
      this.handle = { file, handle: await open(insideFolder(this.folder, file, where), 'r') };
    }
    return this.handle.handle;
  }
}
