import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { GreyFrame } from '../../camera/GreyFrame.ts';
import { parseWith } from '../../input/parseWith.ts';
import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import { checkRigFits } from '../../recording/checkRigFits.ts';
import { type FlightDescription, flightDescription } from '../../recording/FlightDescription.ts';
import type { FrameIndex } from '../../recording/FrameIndex.ts';
import { readFrameIndex } from '../../recording/frameIndexFile.ts';
import { readJsonFile } from '../../recording/jsonFile.ts';
import { openMcapFlight } from '../../recording/mcapFlight.ts';
import type { RigDescription } from '../../recording/RigDescription.ts';
import { readFlightTrajectory } from '../../recording/readFlightTrajectory.ts';
import type { TrajectoryTable } from '../../recording/TrajectoryTable.ts';
import { openUvFrames } from '../../recording/uvFrames.ts';

/** A flight as the check wants it: whatever can be told is told later, not refused here. */
export interface CheckedFlight {
  readonly description: FlightDescription;
  readonly uvIndex: FrameIndex;
  readonly colourIndex: FrameIndex;
  readonly trajectory: TrajectoryTable;
  /** Every frame of a folder; of a recording its events, and the frames that were kept. */
  readonly frames:
    | { readonly kind: 'folder'; open(): ReturnType<typeof openUvFrames> }
    | {
        readonly kind: 'recording';
        readonly events: PhotonEvents;
        isKept(row: number): boolean;
        read(row: number): Promise<GreyFrame | null>;
      };
  readonly notes: readonly string[];
  close(): Promise<void>;
}

/** Opens a flight folder or an MCAP recording, but lets a trajectory be too short and gains be odd. */
export async function openForCheck(path: string, rig: RigDescription): Promise<CheckedFlight> {
  const isFile = await stat(path).then(
    (found) => found.isFile(),
    () => false,
  );
  if (isFile) {
    const flight = await openMcapFlight(path, { trajectoryMayBeShort: true });
    checkRigFits(rig, flight.description, path);
    const { recovery } = flight;
    return {
      description: flight.description,
      uvIndex: flight.uvIndex,
      colourIndex: flight.colourArrivals,
      trajectory: flight.trajectory,
      frames: {
        kind: 'recording',
        events: flight.photonEvents,
        isKept: (row) => flight.hasUvImage(flight.uvIndex[row]),
        read: (row) => flight.readUvFrame(flight.uvIndex[row]),
      },
      notes: [
        ...flight.notes,
        ...(recovery.kind === 'recovered'
          ? [
              `The recording had not been closed (${recovery.because}): ${recovery.messages} messages were got back, ${recovery.lostBytes} bytes lost.`,
            ]
          : []),
      ],
      close: () => flight.close(),
    };
  }
  const file = join(path, 'flight.json');
  const description = parseWith(flightDescription, (await readJsonFile(file)).value, file);
  checkRigFits(rig, description, file);
  const { streams } = description;
  const { index: uvIndex } = await readFrameIndex(path, streams.uv, 'uv', file);
  const { index: colourIndex } = await readFrameIndex(path, streams.colour, 'colour', file);
  const { table: trajectory } = await readFlightTrajectory(path, description, file);
  return {
    description,
    uvIndex,
    colourIndex,
    trajectory,
    frames: { kind: 'folder', open: () => openUvFrames(path, streams.uv, uvIndex) },
    notes: [],
    close: async () => undefined,
  };
}
