import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';

/**
 * Identity of a recording: SHA-256 (hexadecimal) over the bytes of its description, indices and trajectory, and over
 * names and sizes of its frame files. The bytes of the frames themselves are left out, because reading hundreds of
 * gigabytes to name a recording would double the time of an inspection: a frame file altered at equal size goes unseen.
 */
export async function contentHash(
  files: readonly string[],
  frameFiles: Iterable<readonly [name: string, sizeBytes: number]>,
): Promise<string> {
  const hash = createHash('sha256');
  for (const file of files) {
    const inner = createHash('sha256');
    for await (const bytes of createReadStream(file, { highWaterMark: 1 << 20 })) inner.update(bytes as Buffer);
    hash.update(inner.digest());
  }
  for (const [name, size] of frameFiles) hash.update(`${name}\0${size}\n`);
  return hash.digest('hex');
}
