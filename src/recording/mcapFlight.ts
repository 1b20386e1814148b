import { createHash } from 'node:crypto';
import { type FileHandle, open } from 'node:fs/promises';
import { McapIndexedReader } from '@mcap/core';
import { FileHandleReadable } from '@mcap/nodejs';
import type { ColourFrame, GreyFrame } from '../camera/GreyFrame.ts';
import { InputError } from '../input/InputError.ts';
import { parseWith } from '../input/parseWith.ts';
import { checkTrajectoryCovers } from './checkTrajectoryCovers.ts';
import { decodeColourBytes } from './decodeImage.ts';
import { flightDescription } from './FlightDescription.ts';
import type { FrameEntry } from './FrameIndex.ts';
import { type PoseFields, PosesRead } from './mcapPoses.ts';
import { type Recovery, recoverRecording } from './mcapRecovery.ts';
import { MESSAGE_SCHEMAS, TOPICS } from './mcapSchemas.ts';
import { unixNsOfEpoch } from './mcapStamp.ts';
import { type EventFields, INSIDE, UvFramesRead } from './mcapUvFrames.ts';
import { DECOMPRESS } from './mcapZstd.ts';
import type { OpenedFlight } from './openFlight.ts';
import type { PhotonEventColumns } from './photonEventTable.ts';
import { greyOf } from './recorder/followMcap.ts';

/** A recording made by the recorder, as a flight: events of all frames, pixels of some. */
export interface McapFlight extends OpenedFlight {
  /** Events of every uv frame, `frame` counting in `uvIndex`. */
  readonly photonEvents: PhotonEventColumns;
  /** Whether the file was left open by a crash, and what was got back. */
  readonly recovery: Recovery;
  /** rig.json as it was when recording began. */
  readonly rigJson: string;
  /** What the photon finder had learned at the end (as in `PhotonFinderStatistics`); null after a crash. */
  readonly finderStatistics: unknown;
  /** Segments of the uv clock that were left out, and other things that whoever uses the flight should know. */
  readonly notes: readonly string[];
  /** Every colour frame that came in readable, whether its image was kept or not: for what is told of the stream itself. */
  readonly colourArrivals: readonly FrameEntry[];
  hasUvImage(entry: FrameEntry): boolean;
  /** null where the frame was reduced to its events. */
  readUvFrame(entry: FrameEntry): Promise<GreyFrame | null>;
  readColourFrame(entry: FrameEntry): Promise<ColourFrame>;
  /** The colour image as it came in, in the stream's encoding. */
  colourBytes(entry: FrameEntry): Promise<Buffer>;
  /** What became of each frame that came in, and what the recorder noted, in order of the file. */
  ledger(): Promise<RecordedLedger>;
  close(): Promise<void>;
}

export interface RecordedLedger {
  readonly fates: readonly { readonly stream: 'uv' | 'colour'; readonly tNs: number; readonly fate: string }[];
  readonly notes: readonly { readonly tNs: number; readonly text: string }[];
}

/**
 * Opens a recording as a flight; one that was left open by a crash is closed first. Where the uv clock was set back, the longest
 * stretch of rising stamps is the flight, and the notes say what else there is. The colour index has the frames whose images were kept.
 * @throws InputError where it is no recording of ours, or holds no uv frame with events
 */
export async function openMcapFlight(file: string, options: McapFlightOptions = {}): Promise<McapFlight> {
  const recovery = await recoverRecording(file);
  const handle = await open(file, 'r');
  try {
    return await openClosed(file, handle, recovery, options);
  } catch (error) {
    await handle.close();
    throw error;
  }
}

export interface McapFlightOptions {
  /** Frames before the first pose or after the last are let through, for whoever tells of them himself. */
  readonly trajectoryMayBeShort?: boolean;
}

async function openClosed(
  file: string,
  handle: FileHandle,
  recovery: Recovery,
  options: McapFlightOptions,
): Promise<McapFlight> {
  const reader = await McapIndexedReader.Initialize({
    readable: new FileHandleReadable(handle),
    decompressHandlers: DECOMPRESS,
  });
  const about = await metadataOf(reader, 'corposant-flight');
  const flightJson = about?.get('flight');
  if (flightJson === undefined) {
    throw new InputError({
      file,
      field: 'metadata',
      found: "no record 'corposant-flight'",
      expected: 'a recording of the recorder',
      todo: 'docs/formats.md tells what a recording holds.',
    });
  }
  const description = parseWith(flightDescription, JSON.parse(flightJson), `${file}, corposant-flight`);
  const epochNs = unixNsOfEpoch(description.epoch.utc);
  const ledger = await metadataOf(reader, 'corposant-ledger');

  const notes: string[] = [];
  const uv = new UvFramesRead();
  const poses = new PosesRead();
  const kept: Record<string, Map<number, number>> = { uv: new Map(), colour: new Map() };
  const arrived = new Map<number, number>();
  const topics = [TOPICS.uvEvents, TOPICS.trajectory, TOPICS.ledger].map(({ topic }) => topic);
  for await (const { channelId, logTime, data } of reader.readMessages({ topics, validateCrcs: true })) {
    const tNs = Number(logTime - epochNs);
    const { topic } = reader.channelsById.get(channelId)!;
    const fields = MESSAGE_SCHEMAS.get(
      reader.schemasById.get(reader.channelsById.get(channelId)!.schemaId)!.name,
    )!.decode(data);
    if (topic === TOPICS.uvEvents.topic) uv.take(tNs, fields as EventFields);
    else if (topic === TOPICS.trajectory.topic) poses.take(tNs, fields as PoseFields);
    else {
      const { stream, fate, exposure_ns } = fields as { stream: string; fate: string; exposure_ns: number };
      if (fate.startsWith('kept')) kept[stream].set(tNs, exposure_ns);
      if (stream === 'colour' && fate !== 'dropped: unreadable' && fate !== 'dropped: repeated')
        arrived.set(tNs, exposure_ns);
    }
  }
  const trajectory = poses.finish(file, notes);
  const { index: uvIndex, events } = uv.finish(file, notes, options.trajectoryMayBeShort ? null : trajectory.tNs);
  if (!options.trajectoryMayBeShort)
    checkTrajectoryCovers(
      trajectory,
      `${file}, ${TOPICS.trajectory.topic}`,
      uvIndex,
      `${file}, ${TOPICS.uvEvents.topic}`,
    );
  const inOrder = (frames: ReadonlyMap<number, number>): FrameEntry[] =>
    [...frames]
      .sort((a, b) => a[0] - b[0])
      .map(([tNs, exposureNs], frame) => ({ frame, tNs, file: INSIDE, offsetBytes: 0, exposureNs, gain: 0 }));
  const [firstNs, lastNs] = [uvIndex[0].tNs - AROUND_NS, uvIndex[uvIndex.length - 1].tNs + AROUND_NS];
  const colourIndex = inOrder(new Map([...kept.colour].filter(([tNs]) => tNs > firstNs && tNs < lastNs)));

  const imageAt = async (name: 'uvImage' | 'colourImage', tNs: number): Promise<unknown> => {
    const { topic, schema } = TOPICS[name];
    const at = epochNs + BigInt(tNs);
    for await (const message of reader.readMessages({
      topics: [topic],
      startTime: at,
      endTime: at,
      validateCrcs: true,
    }))
      return MESSAGE_SCHEMAS.get(schema)!.decode(message.data);
    return null;
  };
  const colourBytes = async ({ tNs }: FrameEntry): Promise<Buffer> => {
    const fields = (await imageAt('colourImage', tNs)) as { data: Uint8Array } | null;
    if (fields === null) throw new RangeError(`no colour image at ${tNs} ns in ${file}`);
    return Buffer.from(fields.data);
  };
  return {
    folder: file,
    description,
    uvIndex,
    colourIndex,
    colourArrivals: inOrder(arrived),
    trajectory,
    contentHash: recordingHash(reader),
    photonEvents: events,
    recovery,
    rigJson: about?.get('rig') ?? '',
    finderStatistics: JSON.parse(ledger?.get('finder') ?? 'null'),
    notes,
    hasUvImage: ({ tNs }) => kept.uv.has(tNs),
    async readUvFrame({ tNs }) {
      const fields = kept.uv.has(tNs) ? await imageAt('uvImage', tNs) : null;
      return fields === null ? null : greyOf(fields, description);
    },
    readColourFrame: async (entry) =>
      decodeColourBytes(
        await colourBytes(entry),
        `${file}, ${TOPICS.colourImage.topic} at ${entry.tNs} ns`,
        description.streams.colour,
      ),
    colourBytes,
    async ledger() {
      const read: { fates: RecordedLedger['fates'][number][]; notes: RecordedLedger['notes'][number][] } = {
        fates: [],
        notes: [],
      };
      const both = [TOPICS.ledger.topic, TOPICS.notes.topic];
      for await (const { channelId, logTime, data } of reader.readMessages({ topics: both, validateCrcs: true })) {
        const tNs = Number(logTime - epochNs);
        const { topic, schemaId } = reader.channelsById.get(channelId)!;
        const fields = MESSAGE_SCHEMAS.get(reader.schemasById.get(schemaId)!.name)!.decode(data);
        if (topic === TOPICS.notes.topic) read.notes.push({ tNs, text: (fields as { text: string }).text });
        else read.fates.push({ tNs, ...(fields as { stream: 'uv' | 'colour'; fate: string }) });
      }
      return read;
    },
    close: () => handle.close(),
  };
}

/** Colour images belong to the flight from so long before its first uv frame to so long after its last. */
const AROUND_NS = 5e9;

async function metadataOf(reader: McapIndexedReader, name: string): Promise<ReadonlyMap<string, string> | null> {
  for await (const { metadata } of reader.readMetadata({ name })) return metadata;
  return null;
}

/**
 * The identity of a recording: description, ledger and chunks by place, size and span. Like that of a folder it is blind to pixels altered
 * at equal size, which the checksums of the chunks tell on reading.
 */
function recordingHash(reader: McapIndexedReader): string {
  const hash = createHash('sha256').update(JSON.stringify(reader.header));
  for (const chunk of reader.chunkIndexes)
    hash.update(
      [
        chunk.chunkStartOffset,
        chunk.chunkLength,
        chunk.messageStartTime,
        chunk.messageEndTime,
        chunk.uncompressedSize,
      ].join(),
    );
  for (const [id, n] of reader.statistics?.channelMessageCounts ?? []) hash.update(`${id}:${n};`);
  return hash.digest('hex');
}
