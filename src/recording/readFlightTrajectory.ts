import type { FlightDescription } from './FlightDescription.ts';
import { insideFolder } from './insideFolder.ts';
import { type MappedTrajectory, readMappedTrajectory } from './mapped/readMappedTrajectory.ts';
import { readTrajectory } from './trajectoryFile.ts';

/**
 * The trajectory of a flight folder: `trajectory.csv`, or a file of another maker with its mapping.
 * @param flightFile its flight.json, for messages
 * @throws InputError, see readTrajectory and readMappedTrajectory
 */
export async function readFlightTrajectory(
  folder: string,
  { trajectory, epoch }: FlightDescription,
  flightFile: string,
): Promise<MappedTrajectory> {
  const file = insideFolder(folder, trajectory.file, { file: flightFile, field: 'trajectory.file' });
  if (trajectory.mapping === undefined) return { table: await readTrajectory(file), files: [file] };
  const mapping = insideFolder(folder, trajectory.mapping, { file: flightFile, field: 'trajectory.mapping' });
  return readMappedTrajectory(file, mapping, epoch);
}
