import { InputError } from '../../input/InputError.ts';

/** What the header of a LAS file says, and the coordinate system of its records. */
export interface LasHeader {
  readonly version: string;
  readonly pointFormat: number;
  readonly compressed: boolean;
  readonly recordBytes: number;
  readonly pointCount: number;
  readonly pointOffset: number;
  readonly scale: readonly [number, number, number];
  readonly offset: readonly [number, number, number];
  readonly least: readonly [number, number, number];
  readonly most: readonly [number, number, number];
  /** EPSG codes as the file gives them; null where it gives none. */
  readonly horizontalEpsg: number | null;
  readonly verticalEpsg: number | null;
}

/** Bytes from the beginning that hold header and records of usual size. */
export const HEADER_WINDOW_BYTES = 1 << 20;
const LEAST_HEADER_BYTES = 227;
/** Shortest record of each format 0 to 10. Source: ASPRS LAS 1.4 R15, tables of the point data records. */
export const LEAST_RECORD_BYTES = [20, 28, 26, 34, 57, 63, 30, 36, 38, 59, 67];

/**
 * Reads the public header block and the variable length records of LAS 1.0 to 1.4.
 * @param bytes     the beginning of the file
 * @param fileBytes its size
 * @throws InputError for what is no LAS file, formats beyond 10, and files shorter than their header says
 * Source: ASPRS LAS 1.4 R15 (and 1.2), "Public header block", "Variable length records".
 */
export function lasHeader(bytes: Buffer, fileBytes: number, file: string): LasHeader {
  const refuse = (
    field: string,
    found: string,
    expected: string,
    todo = 'Export the cloud again, as LAS 1.2 to 1.4 or LAZ.',
  ): never => {
    throw new InputError({ file, field, found, expected, todo });
  };
  if (bytes.length < LEAST_HEADER_BYTES || bytes.toString('latin1', 0, 4) !== 'LASF')
    refuse('signature', JSON.stringify(bytes.toString('latin1', 0, 4)), '"LASF" and a header of at least 227 bytes');
  const version = `${bytes.readUInt8(24)}.${bytes.readUInt8(25)}`;
  if (!/^1\.[0-4]$/.test(version)) refuse('version', version, '1.0 to 1.4');
  const headerBytes = bytes.readUInt16LE(94);
  const pointOffset = bytes.readUInt32LE(96);
  const recordCount = bytes.readUInt32LE(100);
  const formatByte = bytes.readUInt8(104);
  // LAZ marks compression in the two upper bits of the format (LASzip, from memory).
  const compressed = formatByte >= 128;
  const pointFormat = formatByte & 0x3f;
  if (pointFormat > 10) refuse('point data record format', String(pointFormat), '0 to 10');
  const recordBytes = bytes.readUInt16LE(105);
  if (recordBytes < LEAST_RECORD_BYTES[pointFormat])
    refuse(
      'point data record length',
      String(recordBytes),
      `at least ${LEAST_RECORD_BYTES[pointFormat]} for format ${pointFormat}`,
    );
  const legacyCount = bytes.readUInt32LE(107);
  const isFour = version === '1.4' && headerBytes >= 375 && bytes.length >= 375;
  const pointCount = isFour ? Number(bytes.readBigUInt64LE(247)) : legacyCount;
  const doubles = (at: number, step = 8): [number, number, number] =>
    [0, 1, 2].map((i) => bytes.readDoubleLE(at + step * i)) as [number, number, number];
  const scale = doubles(131);
  if (!scale.every((s) => s > 0 && s < 1000)) refuse('scale factors', scale.join(', '), 'three numbers above 0');
  if (!compressed && fileBytes < pointOffset + pointCount * recordBytes)
    refuse(
      'size',
      `${fileBytes} bytes`,
      `${pointOffset + pointCount * recordBytes} for ${pointCount} points of ${recordBytes} bytes`,
      'The file is cut off; copy it again.',
    );
  const most = doubles(179, 16);
  const least = doubles(187, 16);
  return {
    version,
    pointFormat,
    compressed,
    recordBytes,
    pointCount,
    pointOffset,
    scale,
    offset: doubles(155),
    least,
    most,
    ...systemOf(bytes, headerBytes, Math.min(pointOffset, bytes.length), recordCount),
  };
}

function systemOf(
  bytes: Buffer,
  headerBytes: number,
  end: number,
  count: number,
): Pick<LasHeader, 'horizontalEpsg' | 'verticalEpsg'> {
  let horizontalEpsg: number | null = null;
  let verticalEpsg: number | null = null;
  let at = headerBytes;
  for (let i = 0; i < count && at + 54 <= end; i++) {
    const user = bytes.toString('latin1', at + 2, at + 18).replace(/\0.*$/s, '');
    const id = bytes.readUInt16LE(at + 18);
    const length = bytes.readUInt16LE(at + 20);
    const from = at + 54;
    at = from + length;
    if (user !== 'LASF_Projection' || at > end) continue;
    if (id === 2112) {
      const found = epsgOfWkt(bytes.toString('latin1', from, at).replace(/\0.*$/s, ''));
      horizontalEpsg = found.horizontal ?? horizontalEpsg;
      verticalEpsg = found.vertical ?? verticalEpsg;
    } else if (id === 34735) {
      // GeoTIFF keys: four numbers each; a value stands in the key itself where its location is 0.
      for (let k = 8; k + 8 <= length; k += 8) {
        const [key, location, , value] = [0, 2, 4, 6].map((o) => bytes.readUInt16LE(from + k + o));
        if (location !== 0 || value === 0 || value === 32767) continue;
        if (key === 3072) horizontalEpsg = value;
        else if (key === 2048 && horizontalEpsg === null) horizontalEpsg = value;
        else if (key === 4096) verticalEpsg = value;
      }
    }
  }
  return { horizontalEpsg, verticalEpsg };
}

/** The codes at the ends of the horizontal and of the vertical part of a WKT (versions 1 and 2). */
export function epsgOfWkt(wkt: string): { readonly horizontal: number | null; readonly vertical: number | null } {
  const parts = {
    horizontal: /\b(?:PROJCS|PROJCRS|GEOGCS|GEOGCRS|GEODCRS|GEOCCS)\s*\[/,
    vertical: /\b(?:VERT_CS|VERTCRS)\s*\[/,
  };
  const codeOf = (start: RegExp): number | null => {
    const found = start.exec(wkt);
    if (!found) return null;
    let depth = 0;
    let quoted = false;
    for (let i = found.index; i < wkt.length; i++) {
      if (wkt[i] === '"') quoted = !quoted;
      if (quoted) continue;
      if (wkt[i] === '[') depth++;
      else if (wkt[i] === ']' && --depth === 0) {
        // The system's own code is the last thing in it.
        const own = /(?:AUTHORITY|ID)\s*\[\s*"EPSG"\s*,\s*"?(\d+)"?\s*\]\s*\]$/.exec(wkt.slice(found.index, i + 1));
        return own ? Number(own[1]) : null;
      }
    }
    return null;
  };
  return { horizontal: codeOf(parts.horizontal), vertical: codeOf(parts.vertical) };
}
