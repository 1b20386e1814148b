import { type FileHandle, open, rename, rm } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';

/**
 * Writes a file so that at every moment its name stands for the old content or the new, whole: under a temporary name
 * beside it, flushed to the disk, then renamed over it. Two writers at once do no harm; the later rename stays.
 * After a crash a file ending in `.part` may be left over.
 */
export async function writeFileAtomically(file: string, content: string | Uint8Array): Promise<void> {
  await replaceAtomically(file, async (part) => {
    const handle = await open(part, 'w');
    try {
      await handle.writeFile(content);
    } finally {
      await handle.close();
    }
  });
}

let parts = 0;

/** A name beside `file`, in the same file system so that it can be renamed over it; no other writer has it. */
export const partOf = (file: string): string =>
  join(dirname(file), `.${basename(file)}.${process.pid}-${parts++}.part`);

/** Flushes `part` to the disk and gives it the name `file`. */
export async function publishPart(part: string, file: string): Promise<void> {
  await flush(part, 'r+');
  await rename(part, file);
  // The new name is in the folder, which is flushed too; some systems do not allow that, and do not need it.
  await flush(dirname(file), 'r').catch(() => undefined);
}

/** As `writeFileAtomically`, for content that `write` puts into the file whose name it is given. */
export async function replaceAtomically(file: string, write: (part: string) => Promise<void>): Promise<void> {
  const part = partOf(file);
  try {
    await write(part);
    await publishPart(part, file);
  } catch (error) {
    await rm(part, { force: true });
    throw error;
  }
}

async function flush(path: string, flags: string): Promise<void> {
  const handle: FileHandle = await open(path, flags);
  try {
    await handle.sync();
  } finally {
    await handle.close();
  }
}
