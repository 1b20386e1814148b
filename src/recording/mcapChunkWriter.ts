import { crc32 } from 'node:zlib';
import { McapChunkBuilder, McapRecordBuilder, type McapTypes, Opcode } from '@mcap/core';
import type { ByteSink } from './ByteSink.ts';
import { compressZstd } from './mcapZstd.ts';

/** What is known of the whole chunks of a file: enough to go on writing behind them. */
export interface ChunksSoFar {
  readonly bytes: number;
  readonly chunkIndexes: McapTypes.ChunkIndex[];
  readonly metadataIndexes: McapTypes.MetadataIndex[];
  readonly schemas: McapTypes.Schema[];
  readonly channels: McapTypes.Channel[];
  readonly messageCounts: Map<number, bigint>;
}

/** Images and all the rest go into chunks of their own, so that whoever wants events or poses need not unpack images. */
export type Lane = 'images' | 'records';

/**
 * Writes MCAP in chunks that are closed when the caller says so: the library's own writer closes them by size alone, so that in a
 * quiet minute nothing would reach the disk. Records are put into bytes by the library. A chunk and its index go out in one
 * write; after a write that failed the file is cut back to the last whole chunk.
 * Calls must not overlap.
 */
export class McapChunkWriter {
  readonly #sink: ByteSink;
  readonly #records = new McapRecordBuilder();
  readonly #open = { images: new McapChunkBuilder({}), records: new McapChunkBuilder({}) };
  /** The sink may hold half a record that could not be cut off: nothing may follow it. */
  #broken = false;
  readonly #so: { bytes: number } & Omit<ChunksSoFar, 'bytes'>;

  private constructor(sink: ByteSink, so: ChunksSoFar) {
    this.#sink = sink;
    this.#so = { ...so };
  }

  /** Begins a file: header, schemas and channels stand before the first chunk, so that each chunk can be read on its own. */
  static async begin(
    sink: ByteSink,
    library: string,
    schemas: McapTypes.Schema[],
    channels: McapTypes.Channel[],
  ): Promise<McapChunkWriter> {
    const writer = new McapChunkWriter(sink, {
      bytes: 0,
      chunkIndexes: [],
      metadataIndexes: [],
      schemas,
      channels,
      messageCounts: new Map(),
    });
    writer.#records.writeMagic();
    writer.#records.writeHeader({ profile: 'corposant', library });
    for (const schema of schemas) writer.#records.writeSchema(schema);
    for (const channel of channels) writer.#records.writeChannel(channel);
    await writer.#put();
    return writer;
  }

  /** Goes on behind the whole chunks of a file; the sink stands at `so.bytes`. */
  static goOn(sink: ByteSink, so: ChunksSoFar): McapChunkWriter {
    return new McapChunkWriter(sink, so);
  }

  /** Bytes of the file that are whole: header, metadata and closed chunks. */
  get acknowledgedBytes(): number {
    return this.#so.bytes;
  }

  /** Bytes of an open chunk, before compression. */
  openBytes(lane: Lane): number {
    return this.#open[lane].byteLength;
  }

  /** Adds a message to an open chunk. Nothing reaches the sink before that is closed. */
  add(lane: Lane, message: McapTypes.Message): void {
    this.#open[lane].addMessage(message);
  }

  /** Closes both open chunks; returns when the sink has them. Images go first: what a record says is kept stands before it. */
  async closeChunks(): Promise<void> {
    await this.closeChunk('images');
    await this.closeChunk('records');
  }

  /** Closes one open chunk and writes it; returns when the sink has it. */
  async closeChunk(lane: Lane): Promise<void> {
    const open = this.#open[lane];
    if (open.numMessages === 0) return;
    const data = open.buffer;
    const compressed = compressZstd(data);
    const { messageStartTime, messageEndTime } = open;
    const uncompressedSize = BigInt(data.length);
    const chunkStartOffset = BigInt(this.#so.bytes);
    const chunkLength = this.#records.writeChunk({
      messageStartTime,
      messageEndTime,
      uncompressedSize,
      uncompressedCrc: crc32(data),
      compression: 'zstd',
      records: compressed,
    });
    const messageIndexOffsets = new Map<number, bigint>();
    const counts = new Map<number, bigint>();
    let messageIndexLength = 0n;
    for (const index of open.indices) {
      messageIndexOffsets.set(index.channelId, chunkStartOffset + chunkLength + messageIndexLength);
      messageIndexLength += this.#records.writeMessageIndex(index);
      counts.set(index.channelId, BigInt(index.records.length));
    }
    open.reset();
    await this.#put();
    for (const [id, n] of counts) this.#so.messageCounts.set(id, (this.#so.messageCounts.get(id) ?? 0n) + n);
    this.#so.chunkIndexes.push({
      messageStartTime,
      messageEndTime,
      chunkStartOffset,
      chunkLength,
      messageIndexOffsets,
      messageIndexLength,
      compression: 'zstd',
      compressedSize: BigInt(compressed.length),
      uncompressedSize,
    });
  }

  /** Writes a metadata record, after closing the open chunks. */
  async addMetadata(metadata: McapTypes.Metadata): Promise<void> {
    await this.closeChunks();
    const offset = BigInt(this.#so.bytes);
    const length = this.#records.writeMetadata(metadata);
    await this.#put();
    this.#so.metadataIndexes.push({ offset, length, name: metadata.name });
  }

  /** Forgets the open chunks. */
  dropOpenChunks(): void {
    this.#open.images.reset();
    this.#open.records.reset();
  }

  /** Closes the open chunks and writes the summary, after which any reader finds its way. */
  async finish(): Promise<void> {
    await this.closeChunks();
    const records = this.#records;
    const start = BigInt(this.#so.bytes);
    // Checksums over the data and the summary are optional (0: not given); each chunk carries its own.
    records.writeDataEnd({ dataSectionCrc: 0 });
    const summaryStart = start + BigInt(records.length);
    const groups: McapTypes.SummaryOffset[] = [];
    const group = (groupOpcode: number, write: () => void): void => {
      const groupStart = start + BigInt(records.length);
      write();
      const groupLength = start + BigInt(records.length) - groupStart;
      if (groupLength > 0n) groups.push({ groupOpcode, groupStart, groupLength });
    };
    const { schemas, channels, metadataIndexes, chunkIndexes } = this.#so;
    group(Opcode.SCHEMA, () => schemas.forEach((schema) => records.writeSchema(schema)));
    group(Opcode.CHANNEL, () => channels.forEach((channel) => records.writeChannel(channel)));
    group(Opcode.STATISTICS, () => records.writeStatistics(this.#statistics()));
    group(Opcode.METADATA_INDEX, () => metadataIndexes.forEach((index) => records.writeMetadataIndex(index)));
    group(Opcode.CHUNK_INDEX, () => chunkIndexes.forEach((index) => records.writeChunkIndex(index)));
    const summaryOffsetStart = start + BigInt(records.length);
    for (const offset of groups) records.writeSummaryOffset(offset);
    records.writeFooter({ summaryStart, summaryOffsetStart, summaryCrc: 0 });
    records.writeMagic();
    await this.#put();
    await this.#sink.sync();
  }

  #statistics(): McapTypes.Statistics {
    const { chunkIndexes, messageCounts, schemas, channels, metadataIndexes } = this.#so;
    let messageStartTime = chunkIndexes[0]?.messageStartTime ?? 0n;
    let messageEndTime = 0n;
    for (const chunk of chunkIndexes) {
      if (chunk.messageStartTime < messageStartTime) messageStartTime = chunk.messageStartTime;
      if (chunk.messageEndTime > messageEndTime) messageEndTime = chunk.messageEndTime;
    }
    return {
      messageCount: [...messageCounts.values()].reduce((sum, n) => sum + n, 0n),
      schemaCount: schemas.length,
      channelCount: channels.length,
      attachmentCount: 0,
      metadataCount: metadataIndexes.length,
      chunkCount: chunkIndexes.length,
      messageStartTime,
      messageEndTime,
      channelMessageCounts: messageCounts,
    };
  }

  /** Hands the collected records to the sink; they count once it has all of them. */
  async #put(): Promise<void> {
    const bytes = this.#records.buffer.slice();
    this.#records.reset();
    if (this.#broken) throw new Error('the file ends in half a record');
    try {
      await this.#sink.write(bytes);
    } catch (error) {
      await this.#sink.truncate(this.#so.bytes).catch(() => {
        this.#broken = true;
      });
      throw error;
    }
    this.#so.bytes += bytes.length;
  }
}
