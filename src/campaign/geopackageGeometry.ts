import type { Llh } from '../earth/Llh.ts';

/** EPSG code of WGS 84 geodetic with ellipsoidal height, the system of all our layers. */
export const SRS_ID = 4979;

const WKB_POINT_Z = 1001;
const WKB_LINESTRING_Z = 1002;
const HEADER_BYTES = 8;
const ENVELOPE_XYZ_BYTES = 48;

/**
 * A point as a GeoPackage keeps it: header without envelope, then ISO WKB, little-endian.
 * Source: OGC 12-128r17, 2.1.3 (GeoPackage 1.3).
 */
export function pointZ(llh: Llh): Buffer {
  const bytes = Buffer.alloc(HEADER_BYTES + 5 + 24);
  const at = writeHeader(bytes, 0);
  bytes.writeUInt8(1, at);
  bytes.writeUInt32LE(WKB_POINT_Z, at + 1);
  writeCoordinates(bytes, at + 5, llh);
  return bytes;
}

/**
 * A line string, with its envelope in x, y and z; a single position becomes a line of two equal ends. Null where there is none.
 * Source: as `pointZ`.
 */
export function lineStringZ(positions: readonly Llh[]): Buffer | null {
  if (positions.length === 0) return null;
  const line = positions.length === 1 ? [positions[0], positions[0]] : positions;
  const bytes = Buffer.alloc(HEADER_BYTES + ENVELOPE_XYZ_BYTES + 9 + 24 * line.length);
  let at = writeHeader(bytes, 2);
  for (const axis of [0, 1, 2] as const) {
    let least = Infinity;
    let most = -Infinity;
    for (const position of line) {
      least = Math.min(least, position[axis]);
      most = Math.max(most, position[axis]);
    }
    bytes.writeDoubleLE(least, at);
    bytes.writeDoubleLE(most, at + 8);
    at += 16;
  }
  bytes.writeUInt8(1, at);
  bytes.writeUInt32LE(WKB_LINESTRING_Z, at + 1);
  bytes.writeUInt32LE(line.length, at + 5);
  line.forEach((position, i) => writeCoordinates(bytes, at + 9 + 24 * i, position));
  return bytes;
}

function writeHeader(bytes: Buffer, envelopeKind: 0 | 2): number {
  bytes.write('GP', 0, 'latin1');
  bytes.writeUInt8(0, 2);
  bytes.writeUInt8((envelopeKind << 1) | 1, 3);
  bytes.writeInt32LE(SRS_ID, 4);
  return HEADER_BYTES;
}

function writeCoordinates(bytes: Buffer, at: number, llh: Llh): void {
  if (!llh.every(Number.isFinite)) throw new RangeError(`a position of ${llh.join(', ')} cannot be stored`);
  for (let axis = 0; axis < 3; axis++) bytes.writeDoubleLE(llh[axis], at + 8 * axis);
}

/**
 * Positions of a geometry made by this or by another program: any byte order and envelope, point or line string, with
 * z (ISO or extended WKB). Empty for an empty geometry.
 * @throws RangeError for anything else
 */
export function positionsOf(geometry: Uint8Array): readonly Llh[] {
  const bytes = Buffer.from(geometry.buffer, geometry.byteOffset, geometry.byteLength);
  if (bytes.length < HEADER_BYTES || bytes.toString('latin1', 0, 2) !== 'GP')
    throw new RangeError('not a GeoPackage geometry');
  const flags = bytes.readUInt8(3);
  if ((flags & 16) !== 0) return [];
  const envelopeBytes = [0, 32, 48, 48, 64][(flags >> 1) & 7];
  if (envelopeBytes === undefined) throw new RangeError('a geometry with an envelope of no known kind');
  let at = HEADER_BYTES + envelopeBytes;
  const little = bytes.readUInt8(at) === 1;
  const uint = (offset: number) => (little ? bytes.readUInt32LE(offset) : bytes.readUInt32BE(offset));
  const double = (offset: number) => (little ? bytes.readDoubleLE(offset) : bytes.readDoubleBE(offset));
  const code = uint(at + 1);
  // Extended WKB marks z by its highest bit, ISO WKB by adding 1000.
  const kind = (code & 0x80000000) !== 0 ? (code & 0xff) + 1000 : code;
  if (kind !== WKB_POINT_Z && kind !== WKB_LINESTRING_Z) throw new RangeError(`a geometry of WKB type ${code}`);
  const count = kind === WKB_POINT_Z ? 1 : uint(at + 5);
  at += kind === WKB_POINT_Z ? 5 : 9;
  if (bytes.length < at + 24 * count) throw new RangeError('a geometry cut off');
  return Array.from({ length: count }, (_, i) => [
    double(at + 24 * i),
    double(at + 24 * i + 8),
    double(at + 24 * i + 16),
  ]);
}

/** Least and largest longitude and latitude of a geometry, for the functions that the index's triggers call. */
export function boundsOf(geometry: Uint8Array): { minX: number; maxX: number; minY: number; maxY: number } | null {
  const positions = positionsOf(geometry);
  if (positions.length === 0) return null;
  const bounds = { minX: Infinity, maxX: -Infinity, minY: Infinity, maxY: -Infinity };
  for (const [x, y] of positions) {
    bounds.minX = Math.min(bounds.minX, x);
    bounds.maxX = Math.max(bounds.maxX, x);
    bounds.minY = Math.min(bounds.minY, y);
    bounds.maxY = Math.max(bounds.maxY, y);
  }
  return bounds;
}
