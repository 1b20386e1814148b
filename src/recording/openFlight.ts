import { join } from 'node:path';
import { parseWith } from '../input/parseWith.ts';
import { checkTrajectoryCovers } from './checkTrajectoryCovers.ts';
import { contentHash } from './contentHash.ts';
import { type FlightDescription, flightDescription } from './FlightDescription.ts';
import type { FrameIndex } from './FrameIndex.ts';
import { readFrameIndex } from './frameIndexFile.ts';
import { readJsonFile } from './jsonFile.ts';
import { readFlightTrajectory } from './readFlightTrajectory.ts';
import type { TrajectoryTable } from './TrajectoryTable.ts';

export interface OpenedFlight {
  readonly folder: string;
  readonly description: FlightDescription;
  readonly uvIndex: FrameIndex;
  readonly colourIndex: FrameIndex;
  readonly trajectory: TrajectoryTable;
  /** See `contentHash`: identity of the recording, blind to frame files altered at equal size. */
  readonly contentHash: string;
}

/**
 * Opens a flight: everything but the pixels, checked. An hour (180 000 frames, 720 000 poses) takes about 100 MB.
 * @throws InputError for the first fault found
 */
export async function openFlight(folder: string): Promise<OpenedFlight> {
  const file = join(folder, 'flight.json');
  const description = parseWith(flightDescription, (await readJsonFile(file)).value, file);
  const { streams } = description;
  const uv = await readFrameIndex(folder, streams.uv, 'uv', file);
  const colour = await readFrameIndex(folder, streams.colour, 'colour', file);
  const { table: trajectory, files: trajectoryFiles } = await readFlightTrajectory(folder, description, file);
  const uvIndexFile = join(folder, streams.uv.index);
  checkTrajectoryCovers(trajectory, trajectoryFiles[0], uv.index, uvIndexFile);
  return {
    folder,
    description,
    uvIndex: uv.index,
    colourIndex: colour.index,
    trajectory,
    contentHash: await contentHash(
      [file, uvIndexFile, join(folder, streams.colour.index), ...trajectoryFiles],
      [...uv.sizeBytesOf, ...colour.sizeBytesOf],
    ),
  };
}
