import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import Sqlite from 'better-sqlite3';
import { expect, test } from 'vitest';
import { localFrameAt } from '../earth/LocalFrame.ts';
import { pointZ, positionsOf } from './geopackageGeometry.ts';
import { inspectedCampaign } from './inspectedCampaign.testdata.ts';
import { openGeoPackageCampaign } from './openGeoPackageCampaign.ts';
import { SCHEMA_VERSION } from './schemaMigrations.ts';
import { LINE, ORIGIN } from './smallCampaign.testdata.ts';

/** Output of a program of GDAL, which reads GeoPackage by an implementation of its own. */
function gdal(program: string, args: readonly string[]): string {
  try {
    // Standard error goes into the output: a warning there is what these tests are for.
    return execFileSync('sh', ['-c', `exec "$0" "$@" 2>&1`, program, ...args], { encoding: 'utf8' });
  } catch (error) {
    const { status, stdout } = error as { status: number; stdout: string };
    if (status === 127) throw new Error(`${program} is missing: install Debian's package gdal-bin to run this test`);
    throw new Error(`${program} ended with ${status}: ${stdout}`);
  }
}

test('GDAL reads every layer without a word of warning, in the system with heights, and does not alter the file', () => {
  const file = inspectedCampaign();
  const before = readFileSync(file);
  const text = gdal('ogrinfo', ['-ro', '-so', '-al', file]);
  expect(text).not.toMatch(/warning|error/i);
  const layers = text.split('Layer name: ').slice(1);
  const seen = layers.map((layer) => [
    layer.split('\n')[0],
    /Geometry: (.*)/.exec(layer)?.[1],
    Number(/Feature Count: (\d+)/.exec(layer)?.[1]),
    /ID\["EPSG",(\d+)\]\](?=\n)/.exec(layer)?.[1],
  ]);
  expect(seen.sort()).toEqual(
    [
      ['campaign', 'None', 1, undefined],
      ['changes', '3D Point', 0, '4979'],
      ['comparisons', 'None', 0, undefined],
      ['components', '3D Line String', 2, '4979'],
      ['conductors', '3D Line String', 2, '4979'],
      ['coverage', '3D Line String', 3, '4979'],
      ['discharges', '3D Point', 2, '4979'],
      ['evidence', 'None', 1, undefined],
      ['findings', '3D Point', 2, '4979'],
      ['flight_placings', 'None', 0, undefined],
      ['flight_tracks', '3D Line String', 1, '4979'],
      ['inspection_settings', 'None', 0, undefined],
      ['layer_styles', 'None', 8, undefined],
      ['provenance', 'None', 1, undefined],
      ['rays', 'None', 0, undefined],
      ['review_log', 'None', 0, undefined],
      ['schema_versions', 'None', SCHEMA_VERSION, undefined],
      ['sightings', '3D Point', 2, '4979'],
      ['structures', '3D Point', 2, '4979'],
    ].sort(),
  );
  expect(layers.find((layer) => layer.startsWith('flight_tracks'))).toContain(
    'Extent: (-3.900000, 57.200000) - (-3.898000, 57.200300)',
  );
  expect(readFileSync(file).equals(before)).toBe(true);
});

test('GDAL finds coordinates, attributes and pictures where they were put, and a spatial filter finds by the index', () => {
  const file = inspectedCampaign();
  const findings = gdal('ogrinfo', ['-ro', '-q', file, 'findings']);
  expect(findings).toContain('component (String) = T2-A-clamp');
  expect(findings).toContain('photon_rate_hz (Real) = 10500000000');
  expect(findings).toMatch(/POINT Z \(-3\.8997999\d* 57\.20034 240\.76666\d*\)/);
  const near = gdal('ogrinfo', ['-ro', '-q', '-spat', '-3.89985', '57.2003', '-3.89975', '57.2004', file, 'findings']);
  expect([...near.matchAll(/ id \(String\) = (.*)/g)].map((match) => match[1])).toEqual(['west-D2']);
  expect(gdal('ogrinfo', ['-ro', '-q', file, 'conductors'])).toMatch(/LINESTRING Z \(-3\.901[^,]*,[^,]*,[^,]*\)/);
});

test('a layer edited by another program stays readable, and its spatial index follows', () => {
  const file = inspectedCampaign();
  const edited = gdal('ogrinfo', [
    file,
    '-dialect',
    'sqlite',
    '-sql',
    "UPDATE structures SET geom = (SELECT geom FROM structures WHERE id = 'T2') WHERE id = 'T1'",
  ]);
  expect(edited).not.toMatch(/warning|error/i);
  const db = new Sqlite(file, { readonly: true });
  const boxes = db.prepare('SELECT minx, maxx, miny, maxy FROM rtree_structures_geom ORDER BY id').all();
  expect(boxes[0]).toEqual(boxes[1]);
  expect(db.pragma('integrity_check', { simple: true })).toBe('ok');
  expect(db.pragma('foreign_key_check')).toEqual([]);
  db.close();
  const store = openGeoPackageCampaign(file, { create: false });
  expect(store.line()).toEqual(LINE);
  store.close();
});

test('a structure on the map stands where the local frame puts its foot', () => {
  const db = new Sqlite(inspectedCampaign(), { readonly: true });
  const geometry = db.prepare("SELECT geom FROM structures WHERE id = 'T2'").pluck().get() as Buffer;
  db.close();
  expect(positionsOf(geometry)).toEqual([localFrameAt(ORIGIN).llhFromEnu(LINE.structures[1].footEnuM)]);
});

test('geometries of other programs are read in either byte order, with z of ISO and of extended WKB', () => {
  const bigEndian = Buffer.alloc(8 + 5 + 24);
  bigEndian.write('GP', 0, 'latin1');
  bigEndian.writeInt32BE(4979, 4);
  bigEndian.writeUInt32BE(1001, 9);
  for (const [i, x] of [-3.5, 57.25, 212.125].entries()) bigEndian.writeDoubleBE(x, 13 + 8 * i);
  expect(positionsOf(bigEndian)).toEqual([[-3.5, 57.25, 212.125]]);
  const extended = pointZ([-3.5, 57.25, 212.125]);
  extended.writeUInt32LE(0x80000001, 9);
  expect(positionsOf(extended)).toEqual([[-3.5, 57.25, 212.125]]);
  expect(() => positionsOf(Buffer.from('nothing of the kind'))).toThrow('not a GeoPackage geometry');
});
