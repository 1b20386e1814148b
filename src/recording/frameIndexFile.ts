import { stat } from 'node:fs/promises';
import { InputError } from '../input/InputError.ts';
import { checkRising } from './checkRising.ts';
import { csvInteger, csvNumber } from './csvNumber.ts';
import { readCsvRows } from './csvRows.ts';
import type { FrameEntry, FrameIndex } from './FrameIndex.ts';
import type { ColourStream, UvStream } from './fields.ts';
import { insideFolder } from './insideFolder.ts';
import { unreadable } from './unreadable.ts';

export interface ReadIndex {
  readonly index: FrameIndex;
  /** Size of each frame file, in order of first appearance. */
  readonly sizeBytesOf: ReadonlyMap<string, number>;
}

/**
 * Reads the index of one stream and checks it against the files it names: times strictly rising, exposures within the
 * frame period, every file there and (raw) long enough, no bytes used twice.
 * Frames missing from the rhythm are no fault here: they are for the flight's health.
 * @param description file that describes the stream, for errors
 * @throws InputError for the first fault
 */
export async function readFrameIndex(
  folder: string,
  stream: UvStream | ColourStream,
  kind: 'uv' | 'colour',
  description: string,
): Promise<ReadIndex> {
  const file = insideFolder(folder, stream.index, { file: description, field: `streams.${kind}.index` });
  const periodNs = 1e9 / stream.frameRateHz;
  const index: FrameEntry[] = [];
  let previousNs = -Infinity;
  // Many raw frames share a file: one string for all of them.
  let previousName = '';
  const columns = {
    required: kind === 'uv' ? ['t_ns', 'file', 'exposure_ns', 'gain'] : ['t_ns', 'file', 'exposure_ns'],
    optional: ['offset_bytes'],
  };
  const offsetAt = columns.required.length;
  await readCsvRows(file, columns, (cells, row) => {
    const tNs = csvInteger(
      cells,
      0,
      file,
      row,
      't_ns',
      'integer nanoseconds since the epoch',
      -Number.MAX_SAFE_INTEGER,
    );
    checkRising(tNs, previousNs, file, row);
    previousNs = tNs;
    const text = cells.text(1);
    const name = text === previousName ? previousName : text;
    if (name !== previousName || name === '') insideFolder(folder, name, { file, row, field: 'file' });
    previousName = name;
    const exposureNs = csvInteger(cells, 2, file, row, 'exposure_ns', 'a whole number of nanoseconds above 0', 1);
    if (exposureNs > 1.05 * periodNs) {
      throw new InputError({
        file,
        row,
        field: 'exposure_ns',
        found: String(exposureNs),
        expected: `at most the frame period, ${Math.round(periodNs)} ns at ${stream.frameRateHz} Hz`,
        todo: `Check the unit, and streams.${kind}.frameRateHz in ${description}.`,
      });
    }
    index.push({
      frame: index.length,
      tNs,
      file: name,
      offsetBytes: !cells.has(offsetAt)
        ? 0
        : csvInteger(cells, offsetAt, file, row, 'offset_bytes', 'a whole number of bytes', 0),
      exposureNs,
      gain: kind === 'uv' ? csvNumber(cells, 3, file, row, 'gain') : 0,
    });
  });
  if (index.length === 0) {
    throw new InputError({
      file,
      found: 'a header and no rows',
      expected: 'one row a frame',
      todo: 'Check that the recorder was recording.',
    });
  }
  checkFrameSpacing(index, stream.frameRateHz, file, kind, description);
  return { index, sizeBytesOf: await checkFrameFiles(folder, stream, index, file) };
}

/**
 * Frames closer together than half the stated period mean another unit or another rate. Wider apart is possible:
 * frames may be missing, or only some were kept.
 */
function checkFrameSpacing(index: FrameIndex, rateHz: number, file: string, kind: string, description: string): void {
  if (index.length < 2) return;
  const gaps = Float64Array.from({ length: index.length - 1 }, (_, i) => index[i + 1].tNs - index[i].tNs).sort();
  const medianNs = gaps[gaps.length >> 1];
  const ratio = (medianNs * rateHz) / 1e9;
  if (ratio >= 0.5) return;
  const unit = [
    ['microseconds', 1e-3],
    ['milliseconds', 1e-6],
    ['seconds', 1e-9],
  ].find(([, size]) => ratio > 0.5 * (size as number) && ratio < 2 * (size as number));
  throw new InputError({
    file,
    field: 't_ns',
    found: `frames ${medianNs} apart (median)${unit === undefined ? '' : `, which looks like ${unit[0]}`}`,
    expected: `about ${Math.round(1e9 / rateHz)} ns at ${rateHz} Hz`,
    todo:
      unit === undefined
        ? `Correct streams.${kind}.frameRateHz in ${description}, or the times.`
        : 'Write the times in nanoseconds.',
  });
}

async function checkFrameFiles(
  folder: string,
  stream: UvStream | ColourStream,
  index: FrameIndex,
  file: string,
): Promise<Map<string, number>> {
  const firstRow = new Map<string, number>();
  const nextFree = new Map<string, number>();
  const frameBytes = (stream.widthPx * stream.heightPx * stream.bitDepth) / 8;
  for (const entry of index) {
    const end = nextFree.get(entry.file);
    if (end === undefined) firstRow.set(entry.file, entry.frame + 2);
    else if (stream.encoding !== 'raw' || entry.offsetBytes < end) {
      throw new InputError({
        file,
        row: entry.frame + 2,
        field: stream.encoding === 'raw' ? 'offset_bytes' : 'file',
        found: stream.encoding === 'raw' ? `${entry.offsetBytes} in ${entry.file}` : `${entry.file} a second time`,
        expected:
          stream.encoding === 'raw'
            ? `${end} or more, where the frame before ends`
            : 'a file of its own for each frame',
        todo: 'Write the index again.',
      });
    }
    nextFree.set(entry.file, entry.offsetBytes + frameBytes);
  }
  const sizeOf = new Map<string, number>();
  const names = [...firstRow.keys()];
  for (let from = 0; from < names.length; from += 256) {
    const some = names.slice(from, from + 256);
    const sizes = await Promise.all(some.map((name) => sizeOfFile(folder, name, file, firstRow.get(name)!)));
    some.forEach((name, i) => sizeOf.set(name, sizes[i]));
  }
  if (stream.encoding === 'raw') {
    for (const entry of index) {
      const size = sizeOf.get(entry.file)!;
      if (size >= entry.offsetBytes + frameBytes) continue;
      throw new InputError({
        file,
        row: entry.frame + 2,
        field: 'file',
        found: `${entry.file} with ${size} bytes`,
        expected: `at least ${entry.offsetBytes + frameBytes} (${stream.widthPx} x ${stream.heightPx} px of ${stream.bitDepth} bit from byte ${entry.offsetBytes})`,
        todo: 'The file is cut off, or size and bit depth of the stream are wrong; copy it again or correct the description.',
      });
    }
  }
  return sizeOf;
}

async function sizeOfFile(folder: string, name: string, file: string, row: number): Promise<number> {
  const where = { file, row, field: 'file' };
  let found: string;
  try {
    const seen = await stat(insideFolder(folder, name, where));
    if (seen.isFile()) return seen.size;
    found = 'not a file';
  } catch (error) {
    if (error instanceof InputError) throw error;
    found = unreadable(error);
  }
  throw new InputError({
    ...where,
    found: `${name}: ${found}`,
    expected: 'every frame of the index in the folder',
    todo: 'Copy the missing frames, or leave their rows out of the index so that they count as lost.',
  });
}
