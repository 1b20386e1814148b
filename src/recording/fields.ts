import { z } from 'zod';

/** Fields that several descriptions share. */
export const positive = z.number().positive();
export const vec3 = z.tuple([z.number(), z.number(), z.number()]);
export const name = z.string().min(1).max(200);

export const epoch = z.strictObject({
  utc: z.string().regex(/^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?Z$/, 'a UTC instant such as 2026-05-12T06:30:00Z'),
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
