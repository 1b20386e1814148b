import { open } from 'node:fs/promises';

/** Where a recording's bytes go; calls do not overlap. */
export interface ByteSink {
  /** Writes all of it behind what was written before, or throws. */
  write(bytes: Uint8Array): Promise<void>;
  /** Cuts off everything from this byte on; writing goes on there. */
  truncate(lengthBytes: number): Promise<void>;
  /** Returns when the disk has what was written. */
  sync(): Promise<void>;
  close(): Promise<void>;
}

/** A new file (replaced if there), or with `keepBytes` an old one, cut to that length and gone on with. */
export async function fileSink(file: string, keepBytes: number | null = null): Promise<ByteSink> {
  const handle = await open(file, keepBytes === null ? 'w' : 'r+');
  let position = 0;
  const truncate = async (lengthBytes: number): Promise<void> => {
    await handle.truncate(lengthBytes);
    position = lengthBytes;
  };
  if (keepBytes !== null) await truncate(keepBytes);
  return {
    async write(bytes) {
      // A disk that fills up takes a part first, and refuses only the rest.
      for (let done = 0; done < bytes.length; ) {
        const { bytesWritten } = await handle.write(bytes, done, bytes.length - done, position);
        done += bytesWritten;
        position += bytesWritten;
      }
    },
    truncate,
    sync: () => handle.datasync(),
    close: () => handle.close(),
  };
}
