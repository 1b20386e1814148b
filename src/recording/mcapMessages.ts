import { McapStreamReader, type McapTypes } from '@mcap/core';
import { MESSAGE_SCHEMAS } from './mcapSchemas.ts';
import { DECOMPRESS } from './mcapZstd.ts';

/** One message of an MCAP stream, decoded where its schema is one of ours. */
export interface McapMessage {
  readonly topic: string;
  readonly schema: string;
  readonly logTime: bigint;
  readonly sequence: number;
  /** Borrowed bytes in its fields: valid until the next one is asked for. */
  readonly fields: unknown;
}

export type McapPiece =
  | { readonly kind: 'message'; readonly message: McapMessage }
  | { readonly kind: 'metadata'; readonly metadata: McapTypes.Metadata }
  /** The stream is over; `because` says why where it was not closed. */
  | { readonly kind: 'end'; readonly because: string | null };

/** Reads an MCAP stream from its beginning, once. Topics whose schemas are not among ours are left out. */
export async function* mcapMessages(chunks: AsyncIterable<Uint8Array>): AsyncGenerator<McapPiece> {
  const reader = new McapStreamReader({ decompressHandlers: DECOMPRESS });
  const schemas = new Map<number, string>();
  const channels = new Map<number, { readonly topic: string; readonly schema: string }>();
  try {
    for await (const bytes of chunks) {
      reader.append(bytes);
      for (let record = reader.nextRecord(); record; record = reader.nextRecord()) {
        if (record.type === 'Schema' && record.encoding === 'protobuf') schemas.set(record.id, record.name);
        else if (record.type === 'Channel')
          channels.set(record.id, { topic: record.topic, schema: schemas.get(record.schemaId) ?? '' });
        else if (record.type === 'Metadata') yield { kind: 'metadata', metadata: record };
        else if (record.type === 'Message') {
          const channel = channels.get(record.channelId)!;
          const decode = MESSAGE_SCHEMAS.get(channel.schema)?.decode;
          if (decode === undefined) continue;
          const { logTime, sequence, data } = record;
          yield { kind: 'message', message: { ...channel, logTime, sequence, fields: decode(data) } };
        }
      }
      if (reader.done()) break;
    }
  } catch (error) {
    // Faults of the stream end it; a fault of ours, or of whoever uses what it gave, does not pass through here.
    yield { kind: 'end', because: (error as Error).message };
    return;
  }
  yield { kind: 'end', because: reader.done() ? null : 'it was cut off' };
}
