import { z } from 'zod';
import { InputError } from '../input/InputError.ts';
import { parseWith } from '../input/parseWith.ts';
import { componentOfFile, conductorOfFile, type LineFile, structureOfFile } from './lineFile.ts';

const position = z.array(z.number()).length(3, 'three numbers: longitude, latitude, height above the ellipsoid');

const feature = z.looseObject({
  type: z.literal('Feature'),
  id: z.union([z.string(), z.number()]).optional(),
  geometry: z.discriminatedUnion('type', [
    z.looseObject({ type: z.literal('Point'), coordinates: position }),
    z.looseObject({ type: z.literal('LineString'), coordinates: z.array(position).min(2) }),
  ]),
  properties: z.looseObject({ kind: z.string() }),
});

/** A line as GeoJSON (RFC 7946). Foreign members `name`, `owner` and `voltageKv` speak of the line. */
export const lineGeoJson = z.looseObject({
  type: z.literal('FeatureCollection'),
  name: z.string(),
  owner: z.string().default(''),
  voltageKv: z.number(),
  features: z.array(feature).min(1),
});

/**
 * Reads a line from GeoJSON. `properties` carry the keys of `line.json`, and `kind` tells what a feature is: a tower
 * (Point), a component (Point, or LineString of two positions), or a conductor (LineString; positions between its ends
 * are measured points on the wire). Properties that are null or not known to the line file are left aside, as drawing programs add
 * their own.
 * @throws InputError with the path of the feature's field
 */
export function lineFileFromGeoJson(json: unknown, file: string): LineFile {
  if ((json as { crs?: unknown }).crs !== undefined)
    throw new InputError({
      file,
      field: 'crs',
      found: JSON.stringify((json as { crs: unknown }).crs).slice(0, 80),
      expected: 'no crs: GeoJSON is in WGS 84 longitude and latitude (RFC 7946)',
      todo: 'Export in EPSG:4326 with heights above the ellipsoid, and leave the member out.',
    });
  const found = parseWith(lineGeoJson, json, file);
  const line: LineFile = {
    format: 'corposant-line',
    version: 1,
    name: found.name,
    owner: found.owner,
    voltageKv: found.voltageKv,
    structures: [],
    components: [],
    conductors: [],
  };
  found.features.forEach((item, i) => {
    const { kind } = item.properties;
    const at = `features.${i}`;
    const positions = item.geometry.type === 'Point' ? [item.geometry.coordinates] : item.geometry.coordinates;
    const id = item.properties.id ?? (item.id === undefined ? undefined : String(item.id));
    const read = <T extends z.ZodObject>(schema: T, extra: object): z.infer<T> =>
      parseFeature(schema, { ...known(schema, item.properties), id, ...extra }, file, at);
    const expectPositions = (allowed: boolean, expected: string) => {
      if (!allowed)
        throw new InputError({
          file,
          field: `${at}.geometry`,
          found: `a ${item.geometry.type} of ${positions.length} positions`,
          expected: `${expected} for the kind "${kind}"`,
          todo: 'Draw it so, or correct its kind.',
        });
    };
    const ends = { startLlh: positions[0], endLlh: positions[positions.length - 1] };
    if (isOneOf(structureOfFile.shape.kind.options, kind)) {
      expectPositions(positions.length === 1, 'a Point');
      line.structures.push(read(structureOfFile, { positionLlh: positions[0] }));
    } else if (isOneOf(componentOfFile.shape.kind.options, kind)) {
      expectPositions(positions.length <= 2, 'a Point or a LineString of two positions');
      line.components.push(read(componentOfFile, ends));
    } else if (isOneOf(conductorOfFile.shape.kind.options, kind)) {
      expectPositions(positions.length >= 2, 'a LineString');
      const between = positions.slice(1, -1);
      line.conductors.push(read(conductorOfFile, { ...ends, ...(between.length > 0 && { wirePointsLlh: between }) }));
    } else {
      const kinds = [structureOfFile, componentOfFile, conductorOfFile].flatMap(
        (s) => s.shape.kind.options as string[],
      );
      throw new InputError({
        file,
        field: `${at}.properties.kind`,
        found: JSON.stringify(kind),
        expected: `one of ${kinds.join(', ')}`,
        todo: 'Correct the kind, or leave the feature out.',
      });
    }
  });
  return line;
}

const isOneOf = (options: readonly string[], kind: string): boolean => options.includes(kind);

function known(schema: z.ZodObject, properties: Record<string, unknown>): Record<string, unknown> {
  return Object.fromEntries(Object.entries(properties).filter(([key, value]) => key in schema.shape && value !== null));
}

/** parseWith, with the feature in front of the field's path. */
function parseFeature<T extends z.ZodType>(schema: T, value: unknown, file: string, at: string): z.infer<T> {
  try {
    return parseWith(schema, value, file);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    const { field } = error.fault;
    throw new InputError({ ...error.fault, field: field === undefined ? at : `${at}.properties.${field}` });
  }
}
