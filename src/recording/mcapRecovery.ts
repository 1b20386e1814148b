import { createReadStream, createWriteStream } from 'node:fs';
import { open } from 'node:fs/promises';
import { pipeline } from 'node:stream/promises';
import { McapStreamReader, type McapTypes } from '@mcap/core';
import { InputError } from '../input/InputError.ts';
import { fileSink } from './ByteSink.ts';
import { type ChunksSoFar, McapChunkWriter } from './mcapChunkWriter.ts';
import { DECOMPRESS } from './mcapZstd.ts';
import { unreadable } from './unreadable.ts';

export type Recovery =
  | { readonly kind: 'whole' }
  | {
      readonly kind: 'recovered';
      readonly messages: number;
      readonly keptBytes: number;
      /** Of an open chunk; behind a damaged place they are put beside, into a file with `.cut-off` behind its name. */
      readonly lostBytes: number;
      /** Why reading ended there. */
      readonly because: string;
    };

const FILE_ENDS = 'the file ends';
const MAGIC = Buffer.from([0x89, 0x4d, 0x43, 0x41, 0x50, 0x30, 0x0d, 0x0a]);

/** Whether the file ends as a closed recording does. */
export async function isClosed(file: string): Promise<boolean> {
  const handle = await open(file, 'r');
  try {
    const { size } = await handle.stat();
    const tail = Buffer.alloc(MAGIC.length);
    if (size < 2 * MAGIC.length) return false;
    await handle.read(tail, 0, tail.length, size - tail.length);
    return tail.equals(MAGIC);
  } finally {
    await handle.close();
  }
}

/**
 * Closes a recording that a crash, a full disk or a pulled plug left open: every whole chunk is read and checked, what lies
 * behind the last one is cut off, and the index is written behind it. In place; interrupted, it can be repeated. A file
 * that is closed already is left alone.
 * @throws InputError where the file is not the beginning of an MCAP recording, or there is no room for the index
 */
export async function recoverRecording(file: string): Promise<Recovery> {
  if (await closed(file)) return { kind: 'whole' };
  const { so, lastChunk, sizeBytes, messages, because } = await scan(file);
  let keptBytes: number;
  try {
    // Nothing but an unfinished chunk is thrown away: behind a damaged place there may be more than we can read.
    if (because !== FILE_ENDS)
      await pipeline(createReadStream(file, { start: so.bytes }), createWriteStream(`${file}.cut-off`));
    const sink = await fileSink(file, so.bytes);
    try {
      const writer = McapChunkWriter.goOn(sink, so);
      // The index of the last chunk may be cut off though the chunk is whole: both are written again.
      for (const message of lastChunk) writer.add('records', message);
      await writer.closeChunks();
      keptBytes = writer.acknowledgedBytes;
      await writer.finish();
    } finally {
      await sink.close();
    }
  } catch (error) {
    throw new InputError({
      file,
      found: `a recording that was not closed, and cannot be (${(error as Error).message})`,
      expected: 'permission and room to write its index',
      todo: 'Free some space or copy the file to another disk, and try again: all whole chunks are in it.',
    });
  }
  return { kind: 'recovered', messages, keptBytes, lostBytes: Math.max(0, sizeBytes - keptBytes), because };
}

async function closed(file: string): Promise<boolean> {
  try {
    return await isClosed(file);
  } catch (error) {
    throw new InputError({
      file,
      found: unreadable(error),
      expected: 'an MCAP recording',
      todo: 'Check the path and the permissions.',
    });
  }
}

interface Scan {
  /** Everything up to the last whole chunk, without that chunk. */
  readonly so: ChunksSoFar;
  readonly lastChunk: readonly McapTypes.Message[];
  readonly sizeBytes: number;
  readonly messages: number;
  readonly because: string;
}

async function scan(file: string): Promise<Scan> {
  const reader = new McapStreamReader({ includeChunks: true, decompressHandlers: DECOMPRESS });
  const so = {
    bytes: 0,
    chunkIndexes: [] as McapTypes.ChunkIndex[],
    metadataIndexes: [] as McapTypes.MetadataIndex[],
    schemas: [] as McapTypes.Schema[],
    channels: [] as McapTypes.Channel[],
    messageCounts: new Map<number, bigint>(),
  };
  let pending: { start: number; chunk: McapTypes.Chunk; messages: McapTypes.Message[] } | null = null;
  let fed = 0;
  let messages = 0;
  let because = FILE_ENDS;
  let begun = false;

  const indexes: McapTypes.MessageIndex[] = [];
  let indexStart = 0;
  let end = 0;
  /** The chunk before is followed by further records, so that its index is whole. */
  const settle = (): void => {
    if (pending === null) return;
    const { start, chunk } = pending;
    const offsets = new Map<number, bigint>();
    let at = indexStart;
    for (const { channelId, records } of indexes) {
      offsets.set(channelId, BigInt(at));
      at += 9 + 2 + 4 + 16 * records.length;
      so.messageCounts.set(channelId, (so.messageCounts.get(channelId) ?? 0n) + BigInt(records.length));
    }
    so.chunkIndexes.push({
      messageStartTime: chunk.messageStartTime,
      messageEndTime: chunk.messageEndTime,
      chunkStartOffset: BigInt(start),
      chunkLength: BigInt(indexStart - start),
      messageIndexOffsets: offsets,
      messageIndexLength: BigInt(at - indexStart),
      compression: chunk.compression,
      compressedSize: BigInt(chunk.records.byteLength),
      uncompressedSize: chunk.uncompressedSize,
    });
    so.bytes = at;
    indexes.length = 0;
    pending = null;
  };

  const take = (record: McapTypes.TypedMcapRecord): void => {
    const start = end;
    if (record.type !== 'Message') end = fed - reader.bytesRemaining();
    switch (record.type) {
      case 'Header':
        begun = true;
        so.bytes = end;
        break;
      case 'Schema':
        if (!so.schemas.some(({ id }) => id === record.id)) so.schemas.push(record);
        if (pending === null) so.bytes = end;
        break;
      case 'Channel':
        if (!so.channels.some(({ id }) => id === record.id)) so.channels.push(record);
        if (pending === null) so.bytes = end;
        break;
      case 'Chunk':
        settle();
        // Borrowed bytes: of the chunk only its length is used later.
        pending = { start, chunk: record, messages: [] };
        indexStart = end;
        break;
      case 'Message':
        pending?.messages.push({ ...record, data: record.data.slice() });
        messages++;
        break;
      case 'MessageIndex':
        indexes.push(record);
        break;
      case 'Metadata':
        settle();
        so.metadataIndexes.push({ offset: BigInt(start), length: BigInt(end - start), name: record.name });
        so.bytes = end;
        break;
      case 'DataEnd':
        settle();
        break;
    }
  };

  const stream = createReadStream(file, { highWaterMark: 1 << 20 });
  try {
    for await (const bytes of stream) {
      reader.append(bytes as Buffer);
      fed += (bytes as Buffer).length;
      for (let record = reader.nextRecord(); record; record = reader.nextRecord()) take(record);
    }
  } catch (error) {
    if ((error as NodeJS.ErrnoException).syscall !== undefined) throw error;
    because = (error as Error).message;
  }
  if (!begun) {
    throw new InputError({
      file,
      found: 'no MCAP header',
      expected: 'a recording, or the beginning of one',
      todo: 'Give a file that was recorded; one shorter than its header holds nothing.',
    });
  }
  const last = pending as { start: number; messages: McapTypes.Message[] } | null;
  const handle = await open(file, 'r');
  const { size } = await handle.stat();
  await handle.close();
  return { so, lastChunk: last?.messages ?? [], sizeBytes: size, messages, because };
}
