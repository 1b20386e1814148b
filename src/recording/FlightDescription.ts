import { z } from 'zod';
import { colourStream, epoch, name, positive, uvStream } from './fields.ts';

/** The air and the light that a flight was flown in. */
export const conditions = z.strictObject({
  temperatureC: z.number().min(-60).max(60),
  pressureHPa: z.number().min(300).max(1100),
  relativeHumidityPct: z.number().min(0).max(100),
  mainsHz: z.union([z.literal(50), z.literal(60), z.literal(16.7)]),
  weather: z.enum(['dry', 'rain', 'fog']),
  ozonePpb: z.number().min(0).max(1000).optional(),
  ozoneSigmaPpb: z.number().min(0).max(1000).optional(),
  visibilityKm: positive.optional(),
  sun: z.enum(['clear', 'overcast', 'night']).optional(),
});
export type Conditions = z.infer<typeof conditions>;

/** `flight.json`. Fields: docs/formats.md. */
export const flightDescription = z.strictObject({
  format: z.literal('corposant-flight'),
  version: z.literal(1),
  name,
  rigId: name,
  epoch,
  streams: z.strictObject({ uv: uvStream, colour: colourStream }),
  trajectory: z.strictObject({
    file: name,
    /** For a trajectory of another maker: the mapping that tells what its columns mean; datum and heightKind then say what it makes of them. */
    mapping: name.optional(),
    datum: z.literal('EPSG:4979', 'EPSG:4979 (WGS 84, geodetic, 3D); give a mapping for another'),
    heightKind: z.literal('ellipsoidal', 'ellipsoidal heights; give a mapping for another'),
  }),
  conditions,
});
export type FlightDescription = z.infer<typeof flightDescription>;
