import type { McapTypes } from '@mcap/core';
import type { GreyFrame } from '../../camera/GreyFrame.ts';
import type { ByteSink } from '../ByteSink.ts';
import type { FlightDescription } from '../FlightDescription.ts';
import { type Lane, McapChunkWriter } from '../mcapChunkWriter.ts';
import { MESSAGE_SCHEMAS, TOPICS, type TopicName } from '../mcapSchemas.ts';
import { protobufStamp, unixNsOfEpoch } from '../mcapStamp.ts';
import type { FrameFate, StreamName } from './FrameFate.ts';
import type { PoseRow } from './IncomingItem.ts';

/** A chunk is closed at this size before compression ... */
const CHUNK_BYTES = 1 << 20;
/** ... or when it spans this much of the stream, so that a crash costs less than a second of it. */
const CHUNK_NS = 4e8;
/** The disk is asked to keep what it has once in this time of the stream. */
const SYNC_NS = 2e9;
/** Positions for generic tools, which draw a track and need not follow each of 200 poses a second. */
const POSITION_NS = 2e8;

export interface EventsOfFrame {
  readonly xPx: Float64Array;
  readonly yPx: Float64Array;
  readonly charge: Float32Array;
  readonly sigmaPx: Float32Array;
  readonly flags: Uint8Array;
}

export interface StampedFrame {
  readonly tNs: number;
  readonly exposureNs: number;
  readonly gain: number;
  readonly segment: number;
}

export interface RecordingHead {
  readonly software: string;
  readonly description: FlightDescription;
  /** The bytes of rig.json and their SHA-256. */
  readonly rigJson: string;
  readonly rigHash: string;
}

type Topics = Readonly<Record<TopicName, { readonly id: number; readonly encode: (message: object) => Uint8Array }>>;

/** Puts what a recorder decides into an MCAP file. Calls must not overlap; each may throw what the sink throws. */
export class RecordingWriter {
  readonly #chunks: McapChunkWriter;
  readonly #sink: ByteSink;
  readonly #epochNs: bigint;
  readonly #onAcknowledged: () => void;
  readonly #topics: Topics;
  #newestNs = -Infinity;
  #chunkFromNs = Number.NaN;
  #syncedNs = -Infinity;
  #positionNs = -Infinity;

  private constructor(chunks: McapChunkWriter, sink: ByteSink, epochNs: bigint, onAcknowledged: () => void) {
    this.#chunks = chunks;
    this.#sink = sink;
    this.#epochNs = epochNs;
    this.#onAcknowledged = onAcknowledged;
    this.#topics = Object.fromEntries(
      TOPIC_NAMES.map((name, id) => [name, { id, encode: MESSAGE_SCHEMAS.get(TOPICS[name].schema)!.encode }]),
    ) as Topics;
  }

  /** @param onAcknowledged called when everything written before is in the hands of the operating system */
  static async begin(sink: ByteSink, head: RecordingHead, onAcknowledged: () => void): Promise<RecordingWriter> {
    const names = [...MESSAGE_SCHEMAS.keys()];
    const schemas = names.map((name, i) => ({
      id: i + 1,
      name,
      encoding: 'protobuf',
      data: MESSAGE_SCHEMAS.get(name)!.descriptor,
    }));
    const channels = TOPIC_NAMES.map((name, id) => ({
      id,
      schemaId: names.indexOf(TOPICS[name].schema) + 1,
      topic: TOPICS[name].topic,
      messageEncoding: 'protobuf',
      metadata: new Map<string, string>(),
    }));
    const chunks = await McapChunkWriter.begin(sink, head.software, schemas, channels);
    await chunks.addMetadata({
      name: 'corposant-flight',
      metadata: new Map([
        ['version', '1'],
        ['flight', JSON.stringify(head.description)],
        ['rig', head.rigJson],
        ['rigHash', head.rigHash],
      ]),
    });
    return new RecordingWriter(chunks, sink, unixNsOfEpoch(head.description.epoch.utc), onAcknowledged);
  }

  get acknowledgedBytes(): number {
    return this.#chunks.acknowledgedBytes;
  }

  async uvImage(at: StampedFrame, number: number, { widthPx, heightPx, data }: GreyFrame): Promise<void> {
    const bytesPerPixel = data.BYTES_PER_ELEMENT;
    await this.#exposure('uvExposure', at, number);
    await this.#add('uvImage', at.tNs, number, {
      width: widthPx,
      height: heightPx,
      encoding: bytesPerPixel === 1 ? 'mono8' : 'mono16',
      step: widthPx * bytesPerPixel,
      data: new Uint8Array(data.buffer, data.byteOffset, data.byteLength),
      frame_id: 'uv',
    });
  }

  async colourImage(at: StampedFrame, number: number, format: string, bytes: Uint8Array): Promise<void> {
    await this.#exposure('colourExposure', at, number);
    await this.#add('colourImage', at.tNs, number, { format, data: bytes, frame_id: 'colour' });
  }

  async uvEvents(at: StampedFrame, number: number, events: EventsOfFrame): Promise<void> {
    await this.#add('uvEvents', at.tNs, number, {
      frame: number,
      exposure_ns: at.exposureNs,
      gain: at.gain,
      segment: at.segment,
      x_px: events.xPx,
      y_px: events.yPx,
      charge: events.charge,
      sigma_px: events.sigmaPx,
      flags: events.flags,
    });
  }

  async fate(stream: StreamName, at: Omit<StampedFrame, 'segment'>, arrival: number, fate: FrameFate): Promise<void> {
    await this.#add('ledger', at.tNs, arrival, {
      stream,
      arrival,
      fate,
      exposure_ns: at.exposureNs,
      gain: at.gain,
    });
  }

  async pose(row: PoseRow, number: number): Promise<void> {
    await this.#add('trajectory', row.tNs, number, {
      lat_deg: row.latDeg,
      lon_deg: row.lonDeg,
      height_m: row.heightM,
      roll_deg: row.rollDeg,
      pitch_deg: row.pitchDeg,
      heading_deg: row.headingDeg,
      velocity_ned_mps: row.velocityNedMps,
      sigma: row.sigma,
    });
    if (row.tNs < this.#positionNs + POSITION_NS && row.tNs >= this.#positionNs) return;
    this.#positionNs = row.tNs;
    const [north, east, down] = row.sigma;
    const known = row.sigma.length > 0;
    await this.#add('position', row.tNs, number, {
      latitude: row.latDeg,
      longitude: row.lonDeg,
      altitude: row.heightM,
      position_covariance: known ? [east ** 2, 0, 0, 0, north ** 2, 0, 0, 0, down ** 2] : Array(9).fill(0),
      // 2: the diagonal is known; 0: nothing is.
      position_covariance_type: known ? 2 : 0,
      frame_id: 'body',
    });
  }

  async note(tNs: number, text: string): Promise<void> {
    await this.#add('notes', tNs, 0, { text });
  }

  /** Puts the open chunks on the disk. */
  async closeChunk(): Promise<void> {
    await this.#chunks.closeChunks();
    this.#chunkFromNs = Number.NaN;
    this.#onAcknowledged();
    if (this.#newestNs - this.#syncedNs > SYNC_NS) {
      this.#syncedNs = this.#newestNs;
      await this.#sink.sync();
    }
  }

  /** The clock was set back: time starts anew. */
  async newClock(): Promise<void> {
    await this.closeChunk();
    this.#newestNs = -Infinity;
    this.#syncedNs = -Infinity;
  }

  async finish(ledger: Readonly<Record<string, string>>): Promise<void> {
    await this.closeChunk();
    await this.#chunks.addMetadata({ name: 'corposant-ledger', metadata: new Map(Object.entries(ledger)) });
    await this.#chunks.finish();
  }

  /** After a write was refused: closes the file behind its last whole chunk, if the disk has room for the index. */
  async closeAfterFailure(): Promise<boolean> {
    // Rows of images that did not reach the disk would claim that they are there.
    this.#chunks.dropOpenChunks();
    try {
      await this.#chunks.finish();
      return true;
    } catch {
      return false;
    }
  }

  #exposure(topic: 'uvExposure' | 'colourExposure', at: StampedFrame, number: number): Promise<void> {
    return this.#add(topic, at.tNs, number, { exposure_ns: at.exposureNs, gain: at.gain, segment: at.segment });
  }

  async #add(name: TopicName, tNs: number, sequence: number, fields: object): Promise<void> {
    const { id, encode } = this.#topics[name];
    const logTime = this.#epochNs + BigInt(tNs);
    const data = encode({ timestamp: protobufStamp(logTime), ...fields });
    const message: McapTypes.Message = { channelId: id, sequence: sequence >>> 0, logTime, publishTime: logTime, data };
    const lane = LANES[name];
    this.#chunks.add(lane, message);
    if (Number.isNaN(this.#chunkFromNs)) {
      this.#chunkFromNs = Math.max(tNs, this.#newestNs);
      this.#newestNs = this.#chunkFromNs;
    }
    this.#newestNs = Math.max(this.#newestNs, tNs);
    const long = this.#newestNs - this.#chunkFromNs >= CHUNK_NS;
    if (long || this.#chunks.openBytes('records') >= CHUNK_BYTES) await this.closeChunk();
    else if (this.#chunks.openBytes('images') >= CHUNK_BYTES) await this.#chunks.closeChunk('images');
  }
}

const TOPIC_NAMES = Object.keys(TOPICS) as TopicName[];
/** An exposure goes with its image: whoever reads the file as a stream has it before the image. */
const LANES: Readonly<Record<TopicName, Lane>> = {
  uvImage: 'images',
  uvExposure: 'images',
  colourImage: 'images',
  colourExposure: 'images',
  uvEvents: 'records',
  trajectory: 'records',
  position: 'records',
  ledger: 'records',
  notes: 'records',
};
