import { z } from 'zod';

const id = z.string().min(1).max(200);
const word = z.string().max(200);
const positive = z.number().positive();

/** Longitude, latitude, ellipsoidal height: the order of GeoJSON. */
export const llh = z.tuple([
  z.number().min(-180, 'a longitude first, -180 to 180 degrees').max(180, 'a longitude first, -180 to 180 degrees'),
  z.number().min(-90, 'a latitude second, -90 to 90 degrees').max(90, 'a latitude second, -90 to 90 degrees'),
  z.number().min(-1000, 'a height in metres, -1000 to 9500').max(9500, 'a height in metres, -1000 to 9500'),
]);

const bundle = z.strictObject({
  count: z.int().min(1).max(16),
  spacingM: z.number().min(0).max(2),
  radiusM: positive.max(0.2),
});

export const structureOfFile = z.strictObject({
  id,
  kind: z.enum(['suspension', 'tension']),
  positionLlh: llh,
  sigmaM: positive,
  heightM: positive.max(400),
});

export const componentOfFile = z.strictObject({
  id,
  kind: z.enum(['insulator string', 'clamp', 'ring', 'joint', 'spacer', 'damper']),
  structureId: id.optional(),
  /** Conductor it sits on, or the ids of the two structures of its span joined by "..". */
  spanId: id.optional(),
  circuit: word,
  phase: word,
  side: word.optional(),
  /** Where on the structure it is attached, in the owner's words. */
  attachment: word.optional(),
  startLlh: llh,
  endLlh: llh,
  sigmaM: positive,
  discs: z.int().min(0).max(200).optional(),
  radiusM: positive.max(5).optional(),
});

export const conductorOfFile = z.strictObject({
  id,
  kind: z.enum(['phase', 'earth']),
  fromStructureId: id,
  toStructureId: id,
  circuit: word,
  phase: word,
  startLlh: llh,
  endLlh: llh,
  /** Below the middle of the straight line between the ends. One of this and the next two. */
  sagM: z.number().min(0, 'a sag of 0 or more, measured downwards').optional(),
  /** Horizontal tension over weight per metre. */
  parameterM: positive.max(100_000).optional(),
  /** Horizontal tension, with the weight of the wire (with ice where there was some): another way to say parameterM. */
  horizontalTensionN: positive.max(1e6).optional(),
  weightNPerM: positive.max(1000).optional(),
  /** Measured points on the wire between its ends. */
  wirePointsLlh: z.array(llh).min(1).max(100_000).optional(),
  sagSigmaM: positive,
  /** Of the wire's ends where they were measured; without, they are as uncertain as the towers. */
  sigmaM: positive.optional(),
  bundle,
});

/** `line.json`. Fields: docs/formats.md, "Line model". */
export const lineFile = z.strictObject({
  format: z.literal('corposant-line'),
  version: z.literal(1),
  name: id,
  owner: word,
  /** Line to line, rms. */
  voltageKv: positive.max(2000, 'a voltage in kV, not V'),
  structures: z.array(structureOfFile).min(1),
  components: z.array(componentOfFile),
  conductors: z.array(conductorOfFile),
});
export type LineFile = z.infer<typeof lineFile>;
