import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, onTestFinished, test } from 'vitest';
import { InputError } from '../../input/InputError.ts';
import { epsgOfWkt } from './lasHeader.ts';
import { readPointCloud } from './readPointCloud.ts';

const fixture = (name: string): string =>
  fileURLToPath(new URL(`../../../tests/fixtures/point-cloud/${name}`, import.meta.url));

async function pointsOf(file: string) {
  const xyz: number[] = [];
  const classes: number[] = [];
  const { header, given, leftOut } = await readPointCloud(
    file,
    () => {},
    (block) => {
      xyz.push(...block.xyz.subarray(0, 3 * block.count));
      classes.push(...block.classification.subarray(0, block.count));
    },
  );
  return { xyz, classes, header, given, leftOut };
}

test('LAZ of another program holds the points of its LAS, to the last digit', async () => {
  const las = await pointsOf(fixture('twenty-points.las'));
  const laz = await pointsOf(fixture('twenty-points.laz'));
  expect(las.header).toMatchObject({ version: '1.2', pointFormat: 2, compressed: false, pointCount: 20 });
  expect(laz.header).toMatchObject({ version: '1.2', pointFormat: 2, compressed: true, pointCount: 20 });
  expect(laz.xyz).toEqual(las.xyz);
  // The first point and the last, taken from the bytes by hand (Python's struct).
  expect(las.xyz.slice(0, 3)).toEqual([-3.728, 3.183, -2.028].map((x) => expect.closeTo(x, 9)));
  expect(las.xyz.slice(57)).toEqual([-3.74, 3.259, -2.028].map((x) => expect.closeTo(x, 9)));
});

interface Written {
  readonly minor: number;
  readonly format: number;
  readonly recordBytes: number;
  readonly points: readonly {
    readonly xyz: readonly [number, number, number];
    readonly class: number;
    readonly withheld?: boolean;
  }[];
  readonly records?: readonly { readonly id: number; readonly data: Buffer }[];
}

/** A LAS file by the tables of ASPRS LAS 1.4 R15, millimetres about (300000, 4900000, 0). */
async function lasFile({ minor, format, recordBytes, points, records = [] }: Written): Promise<string> {
  const headerBytes = minor === 4 ? 375 : minor === 3 ? 235 : 227;
  const vlrs = records.map(({ id, data }) => {
    const head = Buffer.alloc(54);
    head.write('LASF_Projection', 2, 'latin1');
    head.writeUInt16LE(id, 18);
    head.writeUInt16LE(data.length, 20);
    return Buffer.concat([head, data]);
  });
  const header = Buffer.alloc(headerBytes);
  header.write('LASF', 0, 'latin1');
  header.writeUInt8(1, 24);
  header.writeUInt8(minor, 25);
  header.writeUInt16LE(headerBytes, 94);
  header.writeUInt32LE(headerBytes + vlrs.reduce((n, v) => n + v.length, 0), 96);
  header.writeUInt32LE(records.length, 100);
  header.writeUInt8(format, 104);
  header.writeUInt16LE(recordBytes, 105);
  header.writeUInt32LE(minor === 4 ? 0 : points.length, 107);
  [0.001, 0.001, 0.001, 300000, 4900000, 0].forEach((x, i) => {
    header.writeDoubleLE(x, 131 + 8 * i);
  });
  if (minor === 4) header.writeBigUInt64LE(BigInt(points.length), 247);
  const data = Buffer.alloc(recordBytes * points.length);
  points.forEach(({ xyz, class: code, withheld }, i) => {
    const at = recordBytes * i;
    [300000, 4900000, 0].forEach((o, k) => {
      data.writeInt32LE(Math.round((xyz[k] - o) * 1000), at + 4 * k);
    });
    if (format >= 6) {
      data.writeUInt8(withheld ? 4 : 0, at + 15);
      data.writeUInt8(code, at + 16);
    } else data.writeUInt8(code | (withheld ? 128 : 0), at + 15);
  });
  const folder = await mkdtemp(join(tmpdir(), 'corposant-las-'));
  onTestFinished(() => rm(folder, { recursive: true, force: true }));
  const file = join(folder, 'cloud.las');
  await writeFile(file, Buffer.concat([header, ...vlrs, data]));
  return file;
}

const POINTS = [
  { xyz: [300012.345, 4900001.25, 61.5], class: 14 },
  { xyz: [300013.5, 4900002.125, -3.25], class: 7 },
  { xyz: [299999.001, 4899999.999, 12], class: 2, withheld: true },
  { xyz: [300020, 4900005, 70.125], class: 15 },
] as const;

// Shortest records by the tables of the specification.
test.each([
  [2, 0, 20],
  [2, 1, 28],
  [2, 3, 34],
  [3, 5, 63],
  [4, 6, 30],
  [4, 7, 36],
  [4, 10, 67],
] as const)(
  'LAS 1.%i format %i: places and classes as written; noise and withheld points are left out and counted',
  async (minor, format, recordBytes) => {
    const file = await lasFile({ minor, format, recordBytes: recordBytes + 2, points: POINTS });
    const found = await pointsOf(file);
    expect(found.xyz).toEqual([300012.345, 4900001.25, 61.5, 300020, 4900005, 70.125].map((x) => expect.closeTo(x, 6)));
    expect(found.classes).toEqual([14, 15]);
    expect(found.leftOut).toBe(2);
  },
);

test('the coordinate system is found in GeoTIFF keys and in WKT', async () => {
  const keys = Buffer.alloc(8 + 3 * 8);
  [1, 1, 0, 3, 1024, 0, 1, 1, 3072, 0, 1, 25833, 4096, 0, 1, 5773].forEach((x, i) => {
    keys.writeUInt16LE(x, 2 * i);
  });
  const byKeys = await pointsOf(
    await lasFile({ minor: 2, format: 1, recordBytes: 28, points: POINTS, records: [{ id: 34735, data: keys }] }),
  );
  expect(byKeys.header).toMatchObject({ horizontalEpsg: 25833, verticalEpsg: 5773 });
  // As PROJ 9.1.1 writes EPSG:32631+5773 in WKT 1, shortened.
  const wkt =
    'COMPD_CS["WGS 84 / UTM zone 31N + EGM96 height",PROJCS["WGS 84 / UTM zone 31N",GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],AUTHORITY["EPSG","4326"]],PROJECTION["Transverse_Mercator"],UNIT["metre",1,AUTHORITY["EPSG","9001"]],AUTHORITY["EPSG","32631"]],VERT_CS["EGM96 height",VERT_DATUM["EGM96 geoid",2005,AUTHORITY["EPSG","5171"]],UNIT["metre",1,AUTHORITY["EPSG","9001"]],AXIS["Gravity-related height",UP],AUTHORITY["EPSG","5773"]],AUTHORITY["EPSG","9707"]]';
  const byWkt = await pointsOf(
    await lasFile({
      minor: 4,
      format: 6,
      recordBytes: 30,
      points: POINTS,
      records: [{ id: 2112, data: Buffer.from(`${wkt}\0`) }],
    }),
  );
  expect(byWkt.header).toMatchObject({ horizontalEpsg: 32631, verticalEpsg: 5773 });
  expect(epsgOfWkt('PROJCRS["x, drawn by hand",BASEGEOGCRS["y",ID["EPSG",4258]],CONVERSION["z"]]')).toEqual({
    horizontal: null,
    vertical: null,
  });
});

test('a file cut off says so instead of giving fewer points', async () => {
  const file = await lasFile({ minor: 2, format: 1, recordBytes: 28, points: POINTS });
  const bytes = await readFile(file);
  await writeFile(file, bytes.subarray(0, bytes.length - 1));
  const error = await pointsOf(file).catch((e: unknown) => e);
  expect(error).toBeInstanceOf(InputError);
  expect((error as InputError).fault).toMatchObject({ field: 'size', expected: '339 for 4 points of 28 bytes' });
});
