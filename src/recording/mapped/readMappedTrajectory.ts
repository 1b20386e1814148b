import { dirname } from 'node:path';
import { parseWith } from '../../input/parseWith.ts';
import type { Epoch } from '../../time/Epoch.ts';
import { checkTrajectoryUnits } from '../checkTrajectoryUnits.ts';
import { readJsonFile } from '../jsonFile.ts';
import type { TrajectoryTable } from '../TrajectoryTable.ts';
import { readMcapTrajectory } from './readMcapTrajectory.ts';
import { readNmeaPositions } from './readNmeaPositions.ts';
import { readTextTrajectory, withAttitude } from './readTextTrajectory.ts';
import { type TrajectoryMapping, trajectoryMapping } from './TrajectoryMapping.ts';

/** A trajectory read by a mapping, and every file that it was made from. */
export interface MappedTrajectory {
  readonly table: TrajectoryTable;
  readonly files: readonly string[];
}

/**
 * Reads a trajectory of another maker by a mapping file: a text table, NMEA 0183 sentences, or an MCAP recording.
 * Further files that the mapping names lie beside the trajectory.
 * @param epoch of the flight: stamps come out in nanoseconds since it
 * @throws InputError for a mapping that breaks its schema, and wherever the file does not fit it
 */
export async function readMappedTrajectory(file: string, mappingFile: string, epoch: Epoch): Promise<MappedTrajectory> {
  const mapping = parseWith(trajectoryMapping, (await readJsonFile(mappingFile)).value, mappingFile);
  const folder = dirname(file);
  const table = await tableBy(file, mapping, epoch, folder);
  checkTrajectoryUnits(table, file);
  const { attitude } = mapping;
  const beside = 'from' in attitude && attitude.from === 'file' ? [`${folder}/${attitude.file}`] : [];
  return { table, files: [file, mappingFile, ...beside] };
}

async function tableBy(
  file: string,
  mapping: TrajectoryMapping,
  epoch: Epoch,
  folder: string,
): Promise<TrajectoryTable> {
  if (mapping.source === 'table') return readTextTrajectory(file, mapping, epoch, folder);
  if (mapping.source === 'MCAP') return readMcapTrajectory(file, mapping, epoch, folder);
  const { positions, notes } = await readNmeaPositions(file, mapping, epoch);
  return withAttitude(positions, mapping.attitude, epoch, folder, notes);
}
