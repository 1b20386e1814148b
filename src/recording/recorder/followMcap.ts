import type { GreyFrame } from '../../camera/GreyFrame.ts';
import { InputError } from '../../input/InputError.ts';
import { parseWith } from '../../input/parseWith.ts';
import { type FlightDescription, flightDescription } from '../FlightDescription.ts';
import { type McapMessage, type McapPiece, mcapMessages } from '../mcapMessages.ts';
import { TOPICS } from '../mcapSchemas.ts';
import { unixNsOfEpoch } from '../mcapStamp.ts';
import type { Incoming, IncomingItem } from './IncomingItem.ts';

/** Exposures remembered while their images are awaited. */
const EXPOSURES = 16;

/**
 * An MCAP stream as it comes in, from standard input or a file. The flight's description stands in the metadata record
 * `corposant-flight` before the first message; an exposure comes before its image, with the same log time.
 * @param name what to call the stream in errors
 * @throws InputError where it does not begin so
 */
export async function followMcap(chunks: AsyncIterable<Uint8Array>, name: string): Promise<Incoming> {
  const pieces = mcapMessages(chunks);
  const first = (await pieces.next()).value as McapPiece;
  const flight = first.kind === 'metadata' && first.metadata.name === 'corposant-flight' ? first.metadata : null;
  const text = flight?.metadata.get('flight');
  if (text === undefined) {
    throw new InputError({
      file: name,
      found: first.kind === 'end' ? (first.because ?? 'an empty stream') : `a ${first.kind} first`,
      expected: "an MCAP stream that begins with the metadata record 'corposant-flight'",
      todo: 'docs/formats.md tells what a stream must hold.',
    });
  }
  const description = parseWith(flightDescription, JSON.parse(text), `${name}, corposant-flight`);
  return { description, items: () => items(pieces, description) };
}

interface Exposure {
  readonly logTime: bigint;
  readonly exposureNs: number;
  readonly gain: number;
}

async function* items(pieces: AsyncIterable<McapPiece>, description: FlightDescription): AsyncGenerator<IncomingItem> {
  const epochNs = unixNsOfEpoch(description.epoch.utc);
  const exposures: Record<'uv' | 'colour', Exposure[]> = { uv: [], colour: [] };
  for await (const piece of pieces) {
    if (piece.kind === 'end' && piece.because !== null)
      yield { kind: 'note', text: `The stream ended before it was closed: ${piece.because}.` };
    if (piece.kind !== 'message') continue;
    const item = itemOf(piece.message, epochNs, exposures, description);
    if (item !== null) yield item;
  }
}

function itemOf(
  { topic, schema, logTime, fields }: McapMessage,
  epochNs: bigint,
  exposures: Record<'uv' | 'colour', Exposure[]>,
  description: FlightDescription,
): IncomingItem | null {
  const tNs = Number(logTime - epochNs);
  const stream = topic.startsWith('/uv/') ? 'uv' : 'colour';
  const wanted = Object.values(TOPICS).find((known) => known.topic === topic);
  if (wanted?.schema !== schema) return null;
  if (schema === 'corposant.Exposure') {
    const { exposure_ns, gain } = fields as { exposure_ns: number; gain: number };
    exposures[stream].push({ logTime, exposureNs: exposure_ns, gain });
    if (exposures[stream].length > EXPOSURES) exposures[stream].shift();
    return null;
  }
  if (schema === 'corposant.Pose') {
    const row = fields as Record<string, number> & { velocity_ned_mps: number[]; sigma: number[] };
    return {
      kind: 'pose',
      row: {
        tNs,
        latDeg: row.lat_deg,
        lonDeg: row.lon_deg,
        heightM: row.height_m,
        rollDeg: row.roll_deg,
        pitchDeg: row.pitch_deg,
        headingDeg: row.heading_deg,
        velocityNedMps: row.velocity_ned_mps,
        sigma: row.sigma,
      },
    };
  }
  if (topic !== TOPICS.uvImage.topic && topic !== TOPICS.colourImage.topic) return null;
  const exposure = exposures[stream].find((known) => known.logTime === logTime);
  if (exposure === undefined)
    return { kind: 'unreadable', stream, what: `${topic} at ${tNs} ns: no exposure came before it` };
  const { exposureNs, gain } = exposure;
  if (stream === 'uv') {
    const frame = greyOf(fields, description);
    if (frame === null)
      return { kind: 'unreadable', stream, what: `${topic} at ${tNs} ns: size or depth are not the stream's` };
    return { kind: 'uv', tNs, exposureNs, gain, bytes: frame.data.byteLength, read: async () => frame };
  }
  const { format, data } = fields as { format: string; data: Uint8Array };
  if (format !== 'jpeg' && format !== 'png')
    return { kind: 'unreadable', stream, what: `${topic} at ${tNs} ns: format '${format}', expected jpeg or png` };
  const bytes = Uint8Array.from(data);
  return { kind: 'colour', tNs, exposureNs, bytes: bytes.length, read: async () => ({ format, bytes }) };
}

/** A RawImage as a frame in memory of its own; null where it is not what the stream's description says. */
export function greyOf(fields: unknown, { streams: { uv } }: FlightDescription): GreyFrame | null {
  const image = fields as { width: number; height: number; encoding: string; step: number; data: Uint8Array };
  const bytesPerPixel = uv.bitDepth / 8;
  const rowBytes = uv.widthPx * bytesPerPixel;
  if (
    image.width !== uv.widthPx ||
    image.height !== uv.heightPx ||
    image.encoding !== (uv.bitDepth === 8 ? 'mono8' : 'mono16') ||
    image.step !== rowBytes ||
    image.data.length !== rowBytes * uv.heightPx
  )
    return null;
  const bytes = Uint8Array.from(image.data);
  return {
    widthPx: uv.widthPx,
    heightPx: uv.heightPx,
    data: bytesPerPixel === 1 ? bytes : new Uint16Array(bytes.buffer),
  };
}
