import { join } from 'node:path';
import { InputError } from '../input/InputError.ts';
import { parseWith } from '../input/parseWith.ts';
import { contentHash } from './contentHash.ts';
import type { FrameIndex } from './FrameIndex.ts';
import { readFrameIndex } from './frameIndexFile.ts';
import { readJsonFile } from './jsonFile.ts';
import { type SeriesDescription, seriesDescription } from './SeriesDescription.ts';

export interface OpenedSeries {
  readonly folder: string;
  readonly description: SeriesDescription;
  readonly uvIndex: FrameIndex;
  /** See `contentHash`. */
  readonly contentHash: string;
}

/**
 * Opens a gain series: everything but the pixels, checked.
 * @throws InputError for the first fault found, among them parts that overlap, end before they begin or hold no frame
 */
export async function openSeries(folder: string): Promise<OpenedSeries> {
  const file = join(folder, 'series.json');
  const description = parseWith(seriesDescription, (await readJsonFile(file)).value, file);
  const uv = await readFrameIndex(folder, description.streams.uv, 'uv', file);
  checkParts(description, uv.index, file);
  return {
    folder,
    description,
    uvIndex: uv.index,
    contentHash: await contentHash([file, join(folder, description.streams.uv.index)], [...uv.sizeBytesOf]),
  };
}

function checkParts({ parts }: SeriesDescription, index: FrameIndex, file: string): void {
  parts.forEach((part, i) => {
    const frames = index.reduce((n, { tNs }) => n + (tNs >= part.fromNs && tNs <= part.toNs ? 1 : 0), 0);
    if (!(part.fromNs < part.toNs && frames > 0))
      throw new InputError({
        file,
        field: `parts.${i}`,
        found: `${part.name} from ${part.fromNs} to ${part.toNs}, ${frames} uv frames`,
        expected: `an interval with frames in it; they run from ${index[0].tNs} to ${index[index.length - 1].tNs}`,
        todo: 'Give the times in nanoseconds since the epoch of the series.',
      });
    const over = parts.findIndex((other, j) => j < i && part.fromNs <= other.toNs && other.fromNs <= part.toNs);
    if (over >= 0)
      throw new InputError({
        file,
        field: `parts.${i}`,
        found: `${part.name}, which overlaps ${parts[over].name}`,
        expected: 'parts one after the other: a frame has one kind of light',
        todo: 'Correct the times of one of them.',
      });
  });
}
