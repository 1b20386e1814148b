import { z } from 'zod';

/** Longitude and latitude in degrees, ellipsoidal height in metres (WGS 84, EPSG:4979; the order of GeoJSON). */
export const llh = z.tuple([z.number(), z.number(), z.number()]);
/** East, north, up in metres in the campaign's local frame. */
export const enu = z.tuple([z.number(), z.number(), z.number()]);
/** Three by three, row by row. */
export const mat3 = z.array(z.number()).length(9);
/** 95 % unless a name says otherwise. */
export const interval = z.object({ lower: z.number(), upper: z.number() });
/** Names what a record or a campaign is like now; another text means that it changed. Compare, never take apart. */
export const revision = z.string().min(1).max(80);

export type LlhAnswer = z.infer<typeof llh>;
export type EnuAnswer = z.infer<typeof enu>;
