import { z } from 'zod';

const name = z.string().min(1).max(200);

/** Where a value comes from: a column (its text through `values`, its number times `times`), or one value for all rows. */
const field = z.union([
  z.strictObject({
    column: name,
    /** What the texts of the column mean here; a text that is not listed leaves its row out. */
    values: z.record(z.string(), z.union([z.string(), z.number()])).optional(),
    /** For another unit: 0.3048 for feet, 0.001 for millimetres. */
    times: z.number().optional(),
  }),
  z.strictObject({ value: z.union([z.string(), z.number()]) }),
]);
export type FieldSource = z.infer<typeof field>;

/** Where a place comes from: three columns, or the geometry of the row, whose heights may stand in a column. */
const place = z.union([
  z.strictObject({ east: name, north: name, height: name }),
  z.strictObject({ geometry: z.enum(['point', 'start', 'end', 'between']), height: name.optional() }),
]);
export type PlaceSource = z.infer<typeof place>;

const table = {
  /** CSV: the file, beside the mapping; GeoPackage: the layer. */
  from: name,
  separator: z.enum(['comma', 'semicolon', 'tab', 'bar']).default('comma'),
  decimalMark: z.enum(['.', ',']).default('.'),
  fields: z.record(name, field),
};

/**
 * How the tables of an owner's register become a line. Fields are the keys of line.json; docs/formats.md, "Line from tables".
 */
export const lineMapping = z.strictObject({
  format: z.literal('corposant-line-mapping'),
  version: z.literal(1),
  name,
  owner: z.string().max(200),
  voltageKv: z.number().positive().max(2000, 'a voltage in kV, not V'),
  /** EPSG:4979 for longitude and latitude in degrees (east, north), or a projected system. */
  system: z.string().regex(/^EPSG:\d{4,5}$/, 'EPSG:4979, or a projected system such as EPSG:25833'),
  /** Of eastings and northings; degrees in EPSG:4979. */
  unit: z.enum(['m', 'ft', 'us-ft']).default('m'),
  heights: z.strictObject({ above: z.enum(['ellipsoid', 'EGM96']), unit: z.enum(['m', 'ft', 'us-ft']).default('m') }),
  structures: z.strictObject({ ...table, position: place }),
  components: z.strictObject({ ...table, start: place, end: place.optional() }).optional(),
  conductors: z.strictObject({ ...table, start: place, end: place, between: place.optional() }).optional(),
  /** Measured points on wires, a row each; `fields.conductorId` names the wire. */
  wirePoints: z.strictObject({ ...table, position: place }).optional(),
});
export type LineMapping = z.infer<typeof lineMapping>;
export const LINE_TABLES = ['structures', 'components', 'conductors', 'wirePoints'] as const;
export type LineTableName = (typeof LINE_TABLES)[number];
