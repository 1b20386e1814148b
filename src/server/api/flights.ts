import { z } from 'zod';

/** What one image stream was like. */
export const streamHealth = z.object({
  frames: z.int(),
  fromNs: z.number(),
  toNs: z.number(),
  nominalHz: z.number(),
  measuredHz: z.number(),
  /** Median distance of two frames, and its standard deviation without the gaps. */
  periodNs: z.number(),
  jitterNs: z.number(),
  /** Largest first, at most 200. */
  gaps: z.array(z.object({ afterFrame: z.int(), fromNs: z.number(), toNs: z.number(), framesMissing: z.int() })),
  framesMissing: z.int(),
});

/** A line of one numeric series: a value a bin, with its least and largest. */
export const binnedSeries = z.object({
  mean: z.array(z.number().nullable()),
  least: z.array(z.number().nullable()),
  most: z.array(z.number().nullable()),
});

/** GET /api/flights/:flight/streams?from=&to=&bins=: times in ns since the epoch, series over equal bins of time. */
export const streamsAnswer = z.object({
  flight: z.string(),
  epochUtc: z.string(),
  timeScale: z.enum(['UTC', 'TAI', 'GPS']),
  /** Of the whole flight. */
  wholeFromNs: z.number(),
  wholeToNs: z.number(),
  fromNs: z.number(),
  toNs: z.number(),
  bins: z.int(),
  /** Middle of each bin. */
  tNs: z.array(z.number()),
  /** True where a bin is no longer than two uv frames: the series then show single frames. */
  singleFrames: z.boolean(),
  uv: z.object({
    intervalMs: binnedSeries,
    exposureMs: binnedSeries,
    gain: binnedSeries,
    frames: z.array(z.int()),
    /** Photon events a second, and those that are no photons (afterglow, hot pixel, far too bright); null without events. */
    eventsPerS: z.array(z.number().nullable()).nullable(),
    notPhotonsPerS: z.array(z.number().nullable()).nullable(),
    /** Mean summed signal of an event, DN; null without events. */
    chargeDn: z.array(z.number().nullable()).nullable(),
  }),
  colour: z.object({ intervalMs: binnedSeries, exposureMs: binnedSeries, frames: z.array(z.int()) }),
  /** From each colour frame to the uv frame nearest to it in time, ms. */
  synchronisationMs: binnedSeries,
  trajectory: z.object({
    intervalMs: binnedSeries,
    heightM: binnedSeries,
    speedMps: binnedSeries,
    rollDeg: binnedSeries,
    pitchDeg: binnedSeries,
    headingDeg: binnedSeries,
    turnDegps: binnedSeries,
    /** As the trajectory states it; null where it states none. */
    horizontalSigmaM: binnedSeries.nullable(),
    verticalSigmaM: binnedSeries.nullable(),
    headingSigmaDeg: binnedSeries.nullable(),
  }),
  health: z.object({ uv: streamHealth, colour: streamHealth, trajectory: streamHealth }),
  findings: z
    .array(
      z.object({
        kind: z.string(),
        weight: z.enum(['note', 'warning', 'fault']),
        fromNs: z.number(),
        toNs: z.number(),
        text: z.string(),
      }),
    )
    .describe('what is wrong with the trajectory and the streams, in words'),
  /** What became of each frame, as the recorder's ledger has it; null for a folder of frames, of which all were kept. */
  fates: z
    .object({
      uv: z.record(z.string(), z.int()),
      colour: z.record(z.string(), z.int()),
      /** Frames by bin and fate. */
      uvByBin: z.record(z.string(), z.array(z.int())),
      colourByBin: z.record(z.string(), z.array(z.int())),
    })
    .nullable(),
  /** Recorder's notes: glows, gaps, what was given up. */
  notes: z.array(z.object({ tNs: z.number().nullable(), text: z.string() })),
});
export type StreamsAnswer = z.infer<typeof streamsAnswer>;

/** GET /api/flights/:flight/frames */
export const framesAnswer = z.object({
  flight: z.string(),
  epochUtc: z.string(),
  timeScale: z.enum(['UTC', 'TAI', 'GPS']),
  uv: z.object({
    widthPx: z.int(),
    heightPx: z.int(),
    bitDepth: z.int(),
    frameRateHz: z.number(),
    tNs: z.array(z.number()),
    /** Runs of equal exposure and gain: from frame `from` on. */
    settings: z.array(z.object({ from: z.int(), exposureNs: z.number(), gain: z.number() })),
    /** Frames whose image is at hand; null: all of them. */
    withImage: z.array(z.int()).nullable(),
  }),
  colour: z.object({
    widthPx: z.int(),
    heightPx: z.int(),
    frameRateHz: z.number(),
    tNs: z.array(z.number()),
    settings: z.array(z.object({ from: z.int(), exposureNs: z.number() })),
  }),
});
export type FramesAnswer = z.infer<typeof framesAnswer>;

/**
 * The head of a binary answer (application/vnd.corposant.columns): 4 bytes little-endian length of this JSON, the JSON
 * (UTF-8, padded with blanks so that the columns start at a multiple of 8), then the columns, each little-endian and starting
 * at a multiple of 8. `offsetBytes` counts from the first byte of the answer.
 */
export const columnsHead = z.object({
  kind: z.string(),
  count: z.int(),
  columns: z.array(
    z.object({
      name: z.string(),
      type: z.enum(['float64', 'float32', 'uint32', 'int32', 'uint16', 'uint8']),
      /** Values a row. */
      width: z.int(),
      offsetBytes: z.int(),
    }),
  ),
  about: z.record(z.string(), z.unknown()),
});
export type ColumnsHead = z.infer<typeof columnsHead>;
