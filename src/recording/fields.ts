import { z } from 'zod';

/** Fields that several descriptions share. */
export const positive = z.number().positive();
export const vec3 = z.tuple([z.number(), z.number(), z.number()]);
export const name = z.string().min(1).max(200);

const UTC_INSTANT = 'a UTC instant such as 2026-05-12T06:30:00Z';

/** Date.parse reads 30 February as 2 March; an instant that exists gives its own day back. */
function isOnTheCalendar(utc: string): boolean {
  const ms = Date.parse(utc);
  return Number.isFinite(ms) && new Date(ms).toISOString().startsWith(utc.slice(0, 19));
}

export const epoch = z.strictObject({
  utc: z
    .string()
    .regex(/^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?Z$/, UTC_INSTANT)
    .refine(isOnTheCalendar, UTC_INSTANT),
  scale: z.enum(['UTC', 'TAI', 'GPS']),
});
export type Epoch = z.infer<typeof epoch>;

export const uvStream = z.strictObject({
  index: name,
  encoding: z.enum(['raw', 'png', 'tiff']),
  widthPx: z.int().min(16).max(16384),
  heightPx: z.int().min(16).max(16384),
  bitDepth: z.union([z.literal(8), z.literal(16)]),
  frameRateHz: positive,
});
export type UvStream = z.infer<typeof uvStream>;

export const colourStream = z.strictObject({
  index: name,
  encoding: z.enum(['png', 'jpeg']),
  widthPx: z.int().min(16).max(16384),
  heightPx: z.int().min(16).max(16384),
  bitDepth: z.literal(8),
  frameRateHz: positive,
});
export type ColourStream = z.infer<typeof colourStream>;
