import { stat } from 'node:fs/promises';
import type { ColourFrame } from '../../camera/GreyFrame.ts';
import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import type { PhotonFinderStatistics } from '../../photon/photonFinder.ts';
import { readColourFrame } from '../../recording/colourFrames.ts';
import type { FrameEntry } from '../../recording/FrameIndex.ts';
import { openMcapFlight } from '../../recording/mcapFlight.ts';
import { type OpenedFlight, openFlight } from '../../recording/openFlight.ts';

/** A flight to inspect, whether a folder with every frame or a recording that holds the events already. */
export interface InspectableFlight extends OpenedFlight {
  /** Where its description stands, for messages. */
  readonly descriptionFile: string;
  /** The photon events, where the recorder found them; null where they are to be found in the frames. */
  readonly recorded: { readonly events: PhotonEvents; readonly statistics: PhotonFinderStatistics | null } | null;
  /** What whoever uses the flight should know, a sentence each. */
  readonly notes: readonly string[];
  readColour(entry: FrameEntry): Promise<ColourFrame>;
  close(): Promise<void>;
}

/** Opens a flight folder, or an MCAP recording of `corposant record`. */
export async function openAnyFlight(path: string): Promise<InspectableFlight> {
  const isFile = await stat(path).then(
    (found) => found.isFile(),
    () => false,
  );
  if (!isFile) {
    const flight = await openFlight(path);
    return {
      ...flight,
      descriptionFile: `${path}/flight.json`,
      recorded: null,
      notes: flight.trajectory.notes ?? [],
      readColour: (entry) => readColourFrame(flight.folder, flight.description.streams.colour, entry),
      close: async () => undefined,
    };
  }
  const flight = await openMcapFlight(path);
  return {
    ...flight,
    descriptionFile: path,
    recorded: {
      events: flight.photonEvents,
      statistics: flight.finderStatistics as PhotonFinderStatistics | null,
    },
    readColour: (entry) => flight.readColourFrame(entry),
    close: () => flight.close(),
  };
}
