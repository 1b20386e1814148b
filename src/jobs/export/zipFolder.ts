import { once } from 'node:events';
import { createWriteStream } from 'node:fs';
import { readdir, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { Zip, ZipDeflate, ZipPassThrough } from 'fflate';

/** The first date that a ZIP archive can hold, in local time as the format has it: equal contents give equal bytes on any day. */
const NO_DATE = new Date(1980, 0, 1);

/**
 * Packs a folder into a ZIP file, one file at a time. JPEG pictures, which no packing makes smaller, are stored as they are.
 * @param inside name of the folder that the archive unpacks to
 */
export async function zipFolder(folder: string, file: string, inside: string): Promise<void> {
  const out = createWriteStream(file);
  const failed = new Promise<never>((_resolve, reject) => out.on('error', reject));
  const closed = once(out, 'close');
  let full = false;
  const zip = new Zip((error, bytes, last) => {
    if (error) out.destroy(error);
    else if (!out.write(bytes)) full = true;
    if (last) out.end();
  });
  const names = (await readdir(folder, { recursive: true, withFileTypes: true }))
    .filter((entry) => entry.isFile())
    .map((entry) => join(entry.parentPath, entry.name))
    .sort();
  for (const path of names) {
    const name = `${inside}/${path
      .slice(folder.length + 1)
      .split('\\')
      .join('/')}`;
    const entry = /\.jpe?g$/i.test(name) ? new ZipPassThrough(name) : new ZipDeflate(name, { level: 6 });
    entry.mtime = NO_DATE;
    zip.add(entry);
    entry.push(new Uint8Array(await readFile(path)), true);
    if (!full) continue;
    await Promise.race([once(out, 'drain'), failed]);
    full = false;
  }
  zip.end();
  await Promise.race([closed, failed]);
}
