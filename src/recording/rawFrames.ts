import { closeSync, openSync, readSync } from 'node:fs';
import { endianness } from 'node:os';
import { InputError } from '../input/InputError.ts';
import type { FrameIndex } from './FrameIndex.ts';
import { insideFolder } from './insideFolder.ts';
import { unreadable } from './unreadable.ts';

/**
 * Raw frames of one stream, each read into the same memory just before it is worked on, so that it is still in the
 * processor's cache: twice as fast from file to photon events as blocks of frames read ahead by another thread. The system
 * reads ahead by itself where frames are asked for in order.
 */
export class RawFrames {
  private readonly folder: string;
  private readonly index: FrameIndex;
  private readonly indexFile: string;
  private readonly bytes: Buffer;
  private readonly swapBytes: boolean;
  private current: { file: string; descriptor: number } | null = null;

  /** @param into where each frame is read to, as long as one frame */
  constructor(
    folder: string,
    index: FrameIndex,
    indexFile: string,
    bytesPerPixel: number,
    into: Uint8Array | Uint16Array,
  ) {
    this.folder = folder;
    this.index = index;
    this.indexFile = indexFile;
    this.bytes = Buffer.from(into.buffer, into.byteOffset, into.byteLength);
    this.swapBytes = bytesPerPixel === 2 && endianness() === 'BE';
  }

  /** Reads frame `i` into the memory given, in native byte order. */
  read(i: number): void {
    const { file, offsetBytes } = this.index[i];
    const where = { file: this.indexFile, row: i + 2, field: 'file' };
    const wanted = this.bytes.length;
    let got = 0;
    try {
      const descriptor = this.open(file, where);
      while (got < wanted) {
        const count = readSync(descriptor, this.bytes, got, wanted - got, offsetBytes + got);
        if (count === 0) break;
        got += count;
      }
    } catch (error) {
      if (error instanceof InputError) throw error;
      throw new InputError({
        ...where,
        found: `${file}: ${unreadable(error)}`,
        expected: 'the frames of the stream',
        todo: 'Copy the recording again.',
      });
    }
    if (got < wanted) {
      throw new InputError({
        ...where,
        found: `${file} ending at byte ${offsetBytes + got}`,
        expected: `a frame up to byte ${offsetBytes + wanted}`,
        todo: 'The file is cut off; copy it again, or leave its rows out of the index so that they count as lost.',
      });
    }
    if (this.swapBytes) this.bytes.swap16();
  }

  close(): void {
    if (this.current) closeSync(this.current.descriptor);
    this.current = null;
  }

  private open(file: string, where: { file: string; row: number; field: string }): number {
    if (this.current?.file !== file) {
      this.close();
      this.current = { file, descriptor: openSync(insideFolder(this.folder, file, where), 'r') };
    }
    return this.current.descriptor;
  }
}
