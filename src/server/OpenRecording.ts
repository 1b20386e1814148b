import { readFile, stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { GreyFrame } from '../camera/GreyFrame.ts';
import type { LocalFrame } from '../earth/LocalFrame.ts';
import type { FlightDescription } from '../recording/FlightDescription.ts';
import type { FrameEntry, FrameIndex } from '../recording/FrameIndex.ts';
import { insideFolder } from '../recording/insideFolder.ts';
import { openMcapFlight, type RecordedLedger } from '../recording/mcapFlight.ts';
import { openFlight } from '../recording/openFlight.ts';
import type { PhotonEventColumns } from '../recording/photonEventTable.ts';
import type { TrajectoryTable } from '../recording/TrajectoryTable.ts';
import { openUvFrames } from '../recording/uvFrames.ts';
import type { Mounting } from '../rig/Mounting.ts';
import type { FramePoses } from '../sighting/EventRays.ts';
import { framePoses } from '../sighting/framePoses.ts';
import { buildTrack } from '../trajectory/buildTrack.ts';
import type { Track } from '../trajectory/Track.ts';

/** A recording that is open for looking at: a folder of frames, or what the recorder wrote. */
export interface OpenRecording {
  readonly description: FlightDescription;
  readonly contentHash: string;
  readonly uvIndex: FrameIndex;
  readonly colourIndex: FrameIndex;
  readonly trajectory: TrajectoryTable;
  /** Events that the recording itself holds; null for a folder of frames. */
  readonly events: PhotonEventColumns | null;
  readonly notes: readonly string[];
  /** Whether the image of a uv frame is at hand. */
  hasUvImage(entry: FrameEntry): boolean;
  readUv(entry: FrameEntry): Promise<GreyFrame | null>;
  /** The image file as it was recorded. */
  colourBytes(entry: FrameEntry): Promise<Buffer>;
  ledger(): Promise<RecordedLedger | null>;
  track(frame: LocalFrame): Track;
  /** Poses of the uv camera at the exposures of either stream. */
  poses(frame: LocalFrame, mounting: Mounting): { readonly uv: FramePoses; readonly colour: FramePoses };
  close(): Promise<void>;
}

/** @throws InputError as `openFlight` and `openMcapFlight` */
export async function openRecording(path: string): Promise<OpenRecording> {
  const isFile = (await stat(path)).isFile();
  return isFile ? fromMcap(path) : fromFolder(path);
}

async function fromFolder(folder: string): Promise<OpenRecording> {
  const flight = await openFlight(folder);
  const { streams, trajectory } = flight.description;
  const uv = await openUvFrames(folder, streams.uv, flight.uvIndex);
  const indexFile = insideFolder(folder, streams.colour.index, { file: folder, field: 'streams.colour.index' });
  // The reader of frames answers one call at a time.
  let reading: Promise<unknown> = Promise.resolve();
  return {
    ...flight,
    ...posed(flight, join(folder, trajectory.file)),
    events: null,
    notes: flight.trajectory.notes ?? [],
    hasUvImage: () => true,
    readUv({ frame }) {
      const next = reading.then(() => uv.read(frame));
      reading = next.catch(() => undefined);
      return next;
    },
    colourBytes: (entry) =>
      readFile(insideFolder(folder, entry.file, { file: indexFile, row: entry.frame + 2, field: 'file' })),
    ledger: async () => null,
    close: () => uv.close(),
  };
}

async function fromMcap(file: string): Promise<OpenRecording> {
  const flight = await openMcapFlight(file);
  return {
    ...flight,
    ...posed(flight, file),
    events: flight.photonEvents,
    hasUvImage: (entry) => flight.hasUvImage(entry),
    readUv: (entry) => flight.readUvFrame(entry),
    colourBytes: (entry) => flight.colourBytes(entry),
    ledger: () => flight.ledger(),
    close: () => flight.close(),
  };
}

/** Track and poses, made when first asked for. */
function posed(
  {
    trajectory,
    uvIndex,
    colourIndex,
  }: { readonly trajectory: TrajectoryTable; readonly uvIndex: FrameIndex; readonly colourIndex: FrameIndex },
  file: string,
): Pick<OpenRecording, 'track' | 'poses'> {
  let track: Track | null = null;
  let poses: { readonly uv: FramePoses; readonly colour: FramePoses } | null = null;
  const trackIn = (frame: LocalFrame): Track => {
    track ??= buildTrack(trajectory, frame, { file });
    return track;
  };
  return {
    track: trackIn,
    poses(frame, mounting) {
      poses ??= {
        uv: framePoses(trackIn(frame), mounting, uvIndex).poses,
        colour: framePoses(trackIn(frame), mounting, colourIndex).poses,
      };
      return poses;
    },
  };
}
