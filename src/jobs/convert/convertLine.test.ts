import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { expect, onTestFinished, test } from 'vitest';
import { egm96UndulationM } from '../../earth/geoid.ts';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { projectedFromLlh } from '../../earth/projected.ts';
import { InputError } from '../../input/InputError.ts';
import type { LineFile } from '../../line/lineFile.ts';
import { randomFrom } from '../../maths/random.ts';
import { convertLine } from './convertLine.ts';

/** Two towers in the open sea, EPSG:32625, one wire between strings of 2 m. */
const frame = localFrameAt([-31.9, 44.4, 57]);
const llh = (e: number, n: number, u: number) => frame.llhFromEnu([e, n, u]);
const utm = (e: number, n: number, u: number): [number, number, number] => {
  const [lon, lat, height] = llh(e, n, u);
  return [...projectedFromLlh('EPSG:32625', lon, lat), height];
};

async function folderOf(files: Record<string, string | Buffer>): Promise<string> {
  const folder = await mkdtemp(join(tmpdir(), 'corposant-line-'));
  onTestFinished(() => rm(folder, { recursive: true, force: true }));
  for (const [name, content] of Object.entries(files)) await writeFile(join(folder, name), content);
  return folder;
}

const structureFields = {
  id: { column: 'NO' },
  kind: { column: 'TYPE', values: { S: 'suspension', T: 'tension' } },
  heightM: { column: 'H_FT', times: 0.3048 },
  sigmaM: { value: 0.1 },
};
const MAPPING = {
  format: 'corposant-line-mapping',
  version: 1,
  name: 'Ebb line',
  owner: 'invented',
  voltageKv: 110,
  system: 'EPSG:32625',
  heights: { above: 'ellipsoid' },
  structures: {
    from: 'towers.csv',
    separator: 'semicolon',
    fields: structureFields,
    position: { east: 'E', north: 'N', height: 'Z' },
  },
  components: {
    from: 'strings.csv',
    fields: {
      id: { column: 'id' },
      kind: { value: 'insulator string' },
      structureId: { column: 'tower' },
      phase: { column: 'phase' },
      attachment: { column: 'arm' },
      sigmaM: { value: 0.1 },
      discs: { column: 'discs' },
    },
    start: { east: 'x1', north: 'y1', height: 'z1' },
    end: { east: 'x2', north: 'y2', height: 'z2' },
  },
  conductors: {
    from: 'wires.csv',
    fields: {
      id: { column: 'id' },
      kind: { value: 'phase' },
      fromStructureId: { column: 'a' },
      toStructureId: { column: 'b' },
      horizontalTensionN: { column: 'h' },
      weightNPerM: { value: 12 },
      sagSigmaM: { value: 0.3 },
      bundleRadiusM: { value: 0.014 },
    },
    start: { east: 'x1', north: 'y1', height: 'z1' },
    end: { east: 'x2', north: 'y2', height: 'z2' },
  },
};
const row = (p: readonly number[]): string => p.map((x) => x.toFixed(4)).join();
const TABLES = {
  'towers.csv': [
    'NO;TYPE;H_FT;E;N;Z',
    ...[
      ['1', 'S', 0],
      ['2', 'S', 300],
      ['3', 'X', 600],
    ].map(([no, type, e]) => [no, type, 100, ...utm(e as number, 0, 0).map((x) => x.toFixed(4))].join(';')),
  ].join('\n'),
  'strings.csv': [
    'id,tower,phase,arm,discs,x1,y1,z1,x2,y2,z2',
    ...[0, 300].map((e, i) => `s${i + 1},${i + 1},A,low left,14,${row(utm(e, 4, 24))},${row(utm(e, 4, 22))}`),
  ].join('\n'),
  'wires.csv': `id,a,b,h,x1,y1,z1,x2,y2,z2\nw1,1,2,21600,${row(utm(0, 4, 22))},${row(utm(300, 4, 22))}\nw2,2,3,21600,${row(utm(300, 4, 22))},,,`,
};

test('tables of a register become a line, and what lacks something is told by row', async () => {
  const folder = await folderOf({ ...TABLES, 'mapping.json': JSON.stringify(MAPPING) });
  const out = join(folder, 'line.json');
  const found = await convertLine(folder, { mappingFile: join(folder, 'mapping.json'), cloud: null, outFile: out });
  expect(found).toMatchObject({ structures: 2, components: 2, conductors: 1 });
  expect(found.leftOut).toEqual([
    { table: 'structures', row: 4, because: '"X" in TYPE is not in the mapping' },
    { table: 'conductors', row: 3, because: 'x2: "", expected a number' },
  ]);
  const line = JSON.parse(await readFile(out, 'utf8')) as LineFile;
  expect(line.structures[1].heightM).toBeCloseTo(30.48, 9);
  expect(line.components[0]).toMatchObject({ structureId: '1', phase: 'A', attachment: 'low left', discs: 14 });
  // A millimetre, from the decimals of the tables.
  const [lon, lat, height] = llh(300, 0, 0);
  expect(Math.abs(line.structures[1].positionLlh[0] - lon) * 79_665).toBeLessThan(0.001);
  expect(Math.abs(line.structures[1].positionLlh[1] - lat) * 111_000).toBeLessThan(0.001);
  expect(Math.abs(line.structures[1].positionLlh[2] - height)).toBeLessThan(0.001);
});

test('a layer of a GeoPackage is read with its geometry, and its system is believed over the mapping', async () => {
  const folder = await folderOf({});
  const file = join(folder, 'register.gpkg');
  const db = new Database(file);
  db.exec(`CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT, srs_id INTEGER PRIMARY KEY, organization TEXT, organization_coordsys_id INTEGER, definition TEXT);
    CREATE TABLE gpkg_geometry_columns (table_name TEXT, column_name TEXT, geometry_type_name TEXT, srs_id INTEGER, z TINYINT, m TINYINT);
    INSERT INTO gpkg_spatial_ref_sys VALUES ('UTM 25N', 32625, 'EPSG', 32625, '');
    INSERT INTO gpkg_geometry_columns VALUES ('masts', 'geom', 'POINT', 32625, 1, 0);
    CREATE TABLE masts (fid INTEGER PRIMARY KEY, geom BLOB, NO TEXT, TYPE TEXT, H_FT REAL);`);
  const point = ([x, y, z]: readonly number[]): Buffer => {
    const bytes = Buffer.alloc(8 + 5 + 24);
    bytes.write('GP', 0, 'latin1');
    bytes.writeUInt8(1, 3);
    bytes.writeInt32LE(32625, 4);
    bytes.writeUInt8(1, 8);
    bytes.writeUInt32LE(1001, 9);
    [x, y, z].forEach((v, i) => {
      bytes.writeDoubleLE(v, 13 + 8 * i);
    });
    return bytes;
  };
  for (const [i, e] of [0, 300].entries())
    db.prepare('INSERT INTO masts VALUES (?, ?, ?, ?, ?)').run(i + 1, point(utm(e, 0, 0)), `M${i}`, 'T', 90);
  db.close();
  const { components: _c, conductors: _w, ...bare } = MAPPING;
  const write = async (system: string): Promise<string> => {
    const mapping = join(folder, `${system.slice(5)}.json`);
    await writeFile(
      mapping,
      JSON.stringify({
        ...bare,
        system,
        structures: { from: 'masts', fields: structureFields, position: { geometry: 'point' } },
      }),
    );
    return mapping;
  };
  const found = await convertLine(file, {
    mappingFile: await write('EPSG:32625'),
    cloud: null,
    outFile: join(folder, 'l.json'),
  });
  expect(found).toMatchObject({ structures: 2, leftOut: [] });
  const error = await convertLine(file, { mappingFile: await write('EPSG:32624'), cloud: null, outFile: null }).catch(
    (e: unknown) => e,
  );
  expect((error as InputError).fault).toMatchObject({ field: 'masts', found: 'a layer in EPSG:32625' });
});

/** A plain LAS 1.2 file, format 0, millimetres. */
function las(points: readonly (readonly [number, number, number])[]): Buffer {
  const header = Buffer.alloc(227);
  const offset = points[0].map(Math.floor);
  header.write('LASF', 0, 'latin1');
  header.writeUInt8(1, 24);
  header.writeUInt8(2, 25);
  header.writeUInt16LE(227, 94);
  header.writeUInt32LE(227, 96);
  header.writeUInt16LE(20, 105);
  header.writeUInt32LE(points.length, 107);
  [0.001, 0.001, 0.001, ...offset].forEach((x, i) => {
    header.writeDoubleLE(x, 131 + 8 * i);
  });
  const axis = (k: number) => points.map((p) => p[k]);
  [0, 1, 2].forEach((k) => {
    header.writeDoubleLE(
      axis(k).reduce((a, b) => Math.max(a, b)),
      179 + 16 * k,
    );
    header.writeDoubleLE(
      axis(k).reduce((a, b) => Math.min(a, b)),
      187 + 16 * k,
    );
  });
  const data = Buffer.alloc(20 * points.length);
  points.forEach((p, i) => {
    [0, 1, 2].forEach((k) => {
      data.writeInt32LE(Math.round((p[k] - offset[k]) * 1000), 20 * i + 4 * k);
    });
  });
  return Buffer.concat([header, data]);
}

/** The wire as it hangs: 0.6 m south of the register, 1 m deeper; strings with it; ground below. Seed 3. */
function scan(up = 0): (readonly [number, number, number])[] {
  const random = randomFrom(3);
  const noise = (): number => 0.02 * random.normal();
  const c = 300 ** 2 / (8 * (6.25 + 1)); // parabola's parameter for a sag of 7.25 m; the catenary's is 6 mm deeper
  const points: [number, number, number][] = [];
  for (let i = 0; i < 800; i++) {
    const x = 300 * random.uniform();
    const z = 22 + c * (Math.cosh((x - 150) / c) - Math.cosh(150 / c));
    points.push(utm(x + noise(), 3.4 + noise(), z + up + noise()));
  }
  for (const e of [0, 300])
    for (let i = 0; i < 120; i++) {
      const t = random.uniform();
      points.push(
        utm(e + 0.1 * (random.uniform() - 0.5), 4 - 0.6 * t + 0.1 * (random.uniform() - 0.5), 24 - 2 * t + up),
      );
    }
  for (let i = 0; i < 2000; i++) points.push(utm(300 * random.uniform(), 20 * random.uniform() - 6, up + noise()));
  return points;
}

async function refined(points: (readonly [number, number, number])[], system = 'EPSG:32625') {
  const folder = await folderOf({ ...TABLES, 'mapping.json': JSON.stringify(MAPPING), 'scan.las': las(points) });
  const out = join(folder, 'line.json');
  const cloud = { files: [join(folder, 'scan.las')], system, heights: 'ellipsoid' as const, sigmaM: 0.03, reachM: 2.5 };
  const found = await convertLine(folder, { mappingFile: join(folder, 'mapping.json'), cloud, outFile: out });
  return { found, line: JSON.parse(await readFile(out, 'utf8')) as LineFile };
}

test('wires and strings go to where the scan has them', async () => {
  const { found, line } = await refined(scan());
  expect(found.cloud?.refined.map((r) => r.id)).toEqual(['w1', 's1', 's2']);
  expect(found.cloud?.notRefined).toEqual([]);
  const [wire] = line.conductors;
  expect(Math.abs((wire.sagM ?? 0) - 7.256)).toBeLessThan(0.02);
  const start = frame.enuFromLlh(wire.startLlh);
  expect(Math.abs(start[1] - 3.4)).toBeLessThan(0.02);
  expect(wire.sigmaM).toBeGreaterThan(0.03);
  expect(wire.sigmaM).toBeLessThan(0.05);
  const string = line.components[0];
  expect(Math.abs(frame.enuFromLlh(string.startLlh)[1] - 4)).toBeLessThan(0.05);
  expect(Math.abs(frame.enuFromLlh(string.endLlh)[1] - 3.4)).toBeLessThan(0.02);
});

test('a scan with heights above the sea is named, not mixed', async () => {
  const sea = egm96UndulationM(-31.9, 44.4);
  const error = await refined(scan(-sea)).catch((e: unknown) => e);
  expect(error).toBeInstanceOf(InputError);
  expect((error as InputError).fault).toMatchObject({
    field: 'heights',
    expected: expect.stringContaining('EGM96 is 57.6 m'),
  });
  expect((error as InputError).fault.todo).toMatch(/^The cloud looks given above the sea/);
});

test('exchanged axes and the zone beside are named', async () => {
  const swapped = await refined(scan().map(([e, n, h]) => [n, e, h] as const)).catch((e: unknown) => e);
  expect((swapped as InputError).fault.todo).toBe('Easting and northing are exchanged in the cloud.');
  const beside = await refined(scan(), 'EPSG:32624').catch((e: unknown) => e);
  expect((beside as InputError).fault.todo).toBe('The cloud looks given in the zone beside, EPSG:32625.');
});
