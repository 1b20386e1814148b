import { join } from 'node:path';
import { InputError } from '../input/InputError.ts';
import { parseWith } from '../input/parseWith.ts';
import { type BenchDescription, benchDescription } from './BenchDescription.ts';
import { contentHash } from './contentHash.ts';
import type { FrameIndex } from './FrameIndex.ts';
import { readFrameIndex } from './frameIndexFile.ts';
import { readJsonFile } from './jsonFile.ts';

export interface OpenedBench {
  readonly folder: string;
  readonly description: BenchDescription;
  readonly uvIndex: FrameIndex;
  readonly colourIndex: FrameIndex;
  /** See `contentHash`. */
  readonly contentHash: string;
}

/**
 * Opens a bench run: everything but the pixels, checked.
 * @throws InputError for the first fault found, among them sweeps that end before they begin or hold no uv frame, and
 *   marks of one name
 */
export async function openBench(folder: string): Promise<OpenedBench> {
  const file = join(folder, 'bench.json');
  const description = parseWith(benchDescription, (await readJsonFile(file)).value, file);
  const { streams } = description;
  const uv = await readFrameIndex(folder, streams.uv, 'uv', file);
  const colour = await readFrameIndex(folder, streams.colour, 'colour', file);
  checkMarks(description, file);
  checkVisible(description, file);
  checkSweeps(description, uv.index, file);
  return {
    folder,
    description,
    uvIndex: uv.index,
    colourIndex: colour.index,
    contentHash: await contentHash(
      [file, join(folder, streams.uv.index), join(folder, streams.colour.index)],
      [...uv.sizeBytesOf, ...colour.sizeBytesOf],
    ),
  };
}

function checkMarks(description: BenchDescription, file: string): void {
  const ids = description.target.marks.map((mark) => mark.id);
  ids.forEach((id, i) => {
    if (ids.indexOf(id) === i) return;
    throw new InputError({
      file,
      field: `target.marks.${i}.id`,
      found: `${id}, as mark ${ids.indexOf(id)} is called already`,
      expected: 'a name of its own for each mark',
      todo: 'Rename one of them.',
    });
  });
}

/** Whether every mark has what its target needs, and what it may have. */
function checkVisible({ target }: BenchDescription, file: string): void {
  target.marks.forEach(({ id, discM, discDiameterM, holeDiameterM }, i) => {
    const hasDisc = discM !== undefined && discDiameterM !== undefined;
    const hasNone = discM === undefined && discDiameterM === undefined && holeDiameterM === undefined;
    if (target.pattern ? !hasNone : !hasDisc)
      throw new InputError({
        file,
        field: `target.marks.${i}`,
        found: target.pattern
          ? `mark ${id} with a disc, on a target with a pattern`
          : `mark ${id} without discM or discDiameterM`,
        expected: target.pattern
          ? 'lamps alone: the pattern is what the colour camera sees'
          : 'a lamp and a disc, or a target.pattern for all',
        todo: target.pattern ? 'Leave the disc away, or the pattern.' : 'Give the middle and the diameter of its disc.',
      });
    if (holeDiameterM !== undefined && !(holeDiameterM < 0.85 * discDiameterM!))
      throw new InputError({
        file,
        field: `target.marks.${i}.holeDiameterM`,
        found: String(holeDiameterM),
        expected: `less than 0.85 of the ring's outer diameter ${discDiameterM}`,
        todo: 'Give the diameters of the bright ring: discDiameterM outside, holeDiameterM inside.',
      });
  });
}

function checkSweeps(description: BenchDescription, uvIndex: FrameIndex, file: string): void {
  description.sweeps.forEach((sweep, i) => {
    const frames = uvIndex.reduce((n, { tNs }) => n + (tNs >= sweep.fromNs && tNs <= sweep.toNs ? 1 : 0), 0);
    if (sweep.fromNs < sweep.toNs && frames > 0) return;
    throw new InputError({
      file,
      field: `sweeps.${i}`,
      found: `${sweep.name} from ${sweep.fromNs} to ${sweep.toNs}, ${frames} uv frames`,
      expected: `an interval with frames in it; they run from ${uvIndex[0].tNs} to ${uvIndex[uvIndex.length - 1].tNs}`,
      todo: 'Give the times in nanoseconds since the epoch of the run.',
    });
  });
}
