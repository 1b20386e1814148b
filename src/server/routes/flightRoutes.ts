import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { FrameIndex } from '../../recording/FrameIndex.ts';
import type { FramePoses } from '../../sighting/EventRays.ts';
import { answeredUnchanged, sendJson } from '../answerTagged.ts';
import { type FramesAnswer, framesAnswer, streamsAnswer } from '../api/flights.ts';
import { COLUMNS_TYPE, columnsBytes } from '../columns.ts';
import type { DeskContext } from '../DeskContext.ts';
import { rowsBetween } from '../EventShelf.ts';
import type { OpenRecording } from '../OpenRecording.ts';
import { HttpProblem, notFound } from '../problemOf.ts';
import { streamsAnswerOf } from '../streamsAnswerOf.ts';

const ofFlight = z.object({ flight: z.string().min(1).max(200) });
const ofFrame = ofFlight.extend({ frame: z.coerce.number().int().min(0) });
const between = z.object({
  from: z.coerce.number().optional().describe('ns since the epoch, inclusive'),
  to: z.coerce.number().optional().describe('ns since the epoch, exclusive'),
});

/** More rows than this are asked for in parts: a browser could not hold them either. */
const MOST_EVENTS = 4_000_000;

/** What a flight's recording shows: images, photon events, and where the camera was. */
export function flightRoutes({ flights, events, rigs, campaign }: DeskContext): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/api/flights/:flight/frames',
      {
        schema: {
          summary: 'Times of the frames of both streams',
          tags: ['flights'],
          params: ofFlight,
          response: { 200: framesAnswer },
        },
      },
      async (request, reply) => {
        const { flight } = request.params;
        const recording = await flights.flight(flight);
        if (answeredUnchanged(request, reply, 'frames', recording.contentHash)) return reply;
        return sendJson(reply, JSON.stringify(framesOf(flight, recording)));
      },
    );

    app.get(
      '/api/flights/:flight/frames/uv/:frame',
      {
        schema: {
          summary: 'A uv frame: pixels row by row, 8 or 16 bit little-endian; size in the headers',
          tags: ['flights'],
          params: ofFrame,
        },
      },
      async (request, reply) => {
        const { flight, frame } = request.params;
        const recording = await flights.flight(flight);
        const entry = entryOf(recording.uvIndex, frame, 'uv');
        if (answeredUnchanged(request, reply, 'uv', recording.contentHash, String(frame))) return reply;
        const image = await recording.readUv(entry);
        if (image === null)
          throw notFound(`Of uv frame ${frame} the recorder kept the photon events and not the image.`);
        return reply
          .headers({
            'content-type': 'application/octet-stream',
            'x-width-px': String(image.widthPx),
            'x-height-px': String(image.heightPx),
            'x-bit-depth': String(8 * image.data.BYTES_PER_ELEMENT),
            'x-t-ns': String(entry.tNs),
            'x-exposure-ns': String(entry.exposureNs),
            'x-gain': String(entry.gain),
          })
          .send(Buffer.from(image.data.buffer, image.data.byteOffset, image.data.byteLength));
      },
    );

    app.get(
      '/api/flights/:flight/frames/colour/:frame',
      {
        schema: { summary: 'A colour frame, the image as recorded (JPEG or PNG)', tags: ['flights'], params: ofFrame },
      },
      async (request, reply) => {
        const { flight, frame } = request.params;
        const recording = await flights.flight(flight);
        const entry = entryOf(recording.colourIndex, frame, 'colour');
        if (answeredUnchanged(request, reply, 'colour', recording.contentHash, String(frame))) return reply;
        return reply
          .headers({
            'content-type': `image/${recording.description.streams.colour.encoding}`,
            'x-t-ns': String(entry.tNs),
            'x-exposure-ns': String(entry.exposureNs),
          })
          .send(await recording.colourBytes(entry));
      },
    );

    app.get(
      '/api/flights/:flight/events',
      {
        schema: {
          summary: 'Photon events between two times, as columns: t_ns, frame, x_px, y_px, charge, flags',
          tags: ['flights'],
          params: ofFlight,
          querystring: between,
        },
      },
      async (request, reply) => {
        const { flight } = request.params;
        const { from = Number.NEGATIVE_INFINITY, to = Number.POSITIVE_INFINITY } = request.query;
        const all = await events.of(flight);
        const [first, end] = rowsBetween(all.tNs, all.count, from, to);
        if (end - first > MOST_EVENTS)
          throw new HttpProblem({
            type: 'too-much',
            title: 'Too many events at once',
            status: 413,
            detail: `${end - first} events lie between those times; at most ${MOST_EVENTS} are sent in one answer.`,
            todo: 'Ask for a shorter stretch.',
          });
        return reply
          .header('content-type', COLUMNS_TYPE)
          .header('cache-control', 'private, no-cache')
          .send(
            columnsBytes('photon events', end - first, {
              t_ns: all.tNs.slice(first, end),
              frame: Uint32Array.from(all.frame.subarray(first, end)),
              x_px: Float32Array.from(all.xPx.subarray(first, end)),
              y_px: Float32Array.from(all.yPx.subarray(first, end)),
              charge: all.charge.slice(first, end),
              flags: Uint32Array.from(all.flags.subarray(first, end)),
            }),
          );
      },
    );

    app.get(
      '/api/flights/:flight/streams',
      {
        schema: {
          summary: 'What the streams were like, over a stretch in equal bins of time',
          tags: ['flights'],
          params: ofFlight,
          querystring: between.extend({ bins: z.coerce.number().int().min(1).max(4000).default(800) }),
          response: { 200: streamsAnswer },
        },
      },
      async (request, reply) => {
        const { flight } = request.params;
        const { from = null, to = null, bins } = request.query;
        const recording = await flights.flight(flight);
        const counted = await events.of(flight).catch((error) => {
          if (error instanceof HttpProblem) return null;
          throw error;
        });
        const tag = [recording.contentHash, String(counted?.count), String(from), String(to), String(bins)];
        if (answeredUnchanged(request, reply, 'streams', ...tag)) return reply;
        const span = { fromNs: from, toNs: to, bins };
        return sendJson(reply, JSON.stringify(await streamsAnswerOf(flight, recording, campaign.now(), counted, span)));
      },
    );

    app.get(
      '/api/flights/:flight/poses',
      {
        schema: {
          summary:
            'Where the uv camera was at each exposure, as columns: stream (0 uv, 1 colour), frame, t_ns, origin_enu_m (3), uv_from_enu (9, row by row)',
          tags: ['flights'],
          params: ofFlight,
          querystring: between,
        },
      },
      async (request, reply) => {
        const { flight } = request.params;
        const { from = Number.NEGATIVE_INFINITY, to = Number.POSITIVE_INFINITY } = request.query;
        const mounting = rigs.needMounting();
        const recording = await flights.flight(flight);
        const { uv, colour } = recording.poses(campaign.now().frame, mounting);
        if (answeredUnchanged(request, reply, 'poses', recording.contentHash, String(from), String(to))) return reply;
        const parts = [uv, colour].map((poses, stream) => ({ stream, ...posesBetween(poses, from, to) }));
        const count = parts.reduce((sum, part) => sum + part.tNs.length, 0);
        const joined = <T extends Float64Array | Uint32Array>(out: T, pick: (part: (typeof parts)[number]) => T): T => {
          let at = 0;
          for (const part of parts) {
            out.set(pick(part), at);
            at += pick(part).length;
          }
          return out;
        };
        const stream = new Uint8Array(count);
        stream.fill(1, parts[0].tNs.length);
        return reply.header('content-type', COLUMNS_TYPE).send(
          columnsBytes('poses of the uv camera', count, {
            t_ns: joined(new Float64Array(count), (part) => part.tNs),
            origin_enu_m: joined(new Float64Array(3 * count), (part) => part.originEnuM),
            uv_from_enu: joined(new Float64Array(9 * count), (part) => part.uvFromEnu),
            frame: joined(new Uint32Array(count), (part) => part.frame),
            stream,
          }),
        );
      },
    );
  };
}

function entryOf(index: FrameIndex, frame: number, stream: string): FrameIndex[number] {
  const entry = index[frame];
  if (entry === undefined) throw notFound(`There are ${index.length} ${stream} frames, counted from 0.`);
  return entry;
}

function posesBetween(poses: FramePoses, fromNs: number, toNs: number) {
  const [first, end] = rowsBetween(poses.tNs, poses.count, fromNs, toNs);
  return {
    tNs: poses.tNs.slice(first, end),
    frame: Uint32Array.from(poses.frame.subarray(first, end)),
    originEnuM: poses.originEnuM.slice(3 * first, 3 * end),
    uvFromEnu: poses.uvFromEnu.slice(9 * first, 9 * end),
  };
}

function framesOf(flight: string, recording: OpenRecording): FramesAnswer {
  const { description, uvIndex, colourIndex } = recording;
  const { uv, colour } = description.streams;
  const withImage = uvIndex.filter((entry) => recording.hasUvImage(entry)).map(({ frame }) => frame);
  return {
    flight,
    epochUtc: description.epoch.utc,
    timeScale: description.epoch.scale,
    uv: {
      widthPx: uv.widthPx,
      heightPx: uv.heightPx,
      bitDepth: uv.bitDepth,
      frameRateHz: uv.frameRateHz,
      tNs: uvIndex.map(({ tNs }) => tNs),
      settings: settingsOf(uvIndex),
      withImage: withImage.length === uvIndex.length ? null : withImage,
    },
    colour: {
      widthPx: colour.widthPx,
      heightPx: colour.heightPx,
      frameRateHz: colour.frameRateHz,
      tNs: colourIndex.map(({ tNs }) => tNs),
      settings: settingsOf(colourIndex).map(({ from, exposureNs }) => ({ from, exposureNs })),
    },
  };
}

/** Runs of frames with the same exposure and gain. */
function settingsOf(index: FrameIndex): { from: number; exposureNs: number; gain: number }[] {
  return index
    .filter(
      ({ exposureNs, gain }, i) => i === 0 || exposureNs !== index[i - 1].exposureNs || gain !== index[i - 1].gain,
    )
    .map(({ frame, exposureNs, gain }) => ({ from: frame, exposureNs, gain }));
}
