import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, onTestFinished, test } from 'vitest';
import { z } from 'zod';
import { coverageCsv, findingsCsv } from './findingsCsv.ts';
import { findingsDocument, findingsJson } from './findingsDocument.ts';
import { findingsGeoJson } from './findingsGeoJson.ts';
import { findingsKml } from './findingsKml.ts';
import { findingsXlsx } from './findingsXlsx.ts';
import { islandCampaign } from './islandCampaign.testdata.ts';
import { type ReportContents, reportContents } from './ReportContents.ts';

const island = async () => reportContents(await islandCampaign())!;

/** What GDAL says of a file; its absence fails the test, as nothing then has checked the file from outside. */
function ogrinfo(name: string, content: string | Uint8Array): string {
  const folder = mkdtempSync(join(tmpdir(), 'corposant-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  writeFileSync(join(folder, name), content);
  try {
    return execFileSync('ogrinfo', ['-al', '-ro', join(folder, name)], {
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'pipe'],
    });
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT')
      throw new Error('ogrinfo is missing: install the Debian package gdal-bin, or GDAL for your system');
    throw error;
  }
}

test('the GeoJSON keeps to RFC 7946: longitude first, three numbers, no crs, identities, all properties flat', async () => {
  const contents = await island();
  const collection = JSON.parse(findingsGeoJson(contents));
  expect(Object.keys(collection).sort()).toEqual(['features', 'type']);
  expect(collection.type).toBe('FeatureCollection');
  expect(collection.features).toHaveLength(8);
  for (const feature of collection.features) {
    expect(feature.type).toBe('Feature');
    expect(feature.geometry.type).toBe('Point');
    const [lon, lat, height, ...more] = feature.geometry.coordinates;
    expect(more).toEqual([]);
    const own = [...contents.findings, ...contents.rejected].find(({ finding }) => finding.id === feature.id)!;
    // Seven decimals are 11 mm of latitude, two decimals of height 10 mm: half of each may be lost.
    expect(Math.abs(lon - own.discharge.positionLlh[0])).toBeLessThan(5.1e-8);
    expect(Math.abs(lat - own.discharge.positionLlh[1])).toBeLessThan(5.1e-8);
    expect(Math.abs(height - own.discharge.positionLlh[2])).toBeLessThan(0.0051);
    for (const value of Object.values(feature.properties))
      expect(typeof value === 'object' && value !== null).toBe(false);
  }
});

test('GDAL reads the GeoJSON as eight points in space on WGS 84', async () => {
  const said = ogrinfo('findings.geojson', findingsGeoJson(await island()));
  expect(said).toContain('Geometry: 3D Point');
  expect(said).toContain('Feature Count: 8');
  expect(said).toContain('GEOGCRS["WGS 84"');
  expect(said).not.toMatch(/warning|error/i);
});

test('GDAL reads the KML, whose altitudes are above the geoid and not above the ellipsoid', async () => {
  const contents = await island();
  const kml = findingsKml(contents);
  const said = ogrinfo('findings.kml', kml);
  expect(said).toContain('Feature Count: 7');
  const [, altitude] = /POINT Z \(\S+ \S+ (\S+)\)/.exec(said)!;
  const measured = contents.findings[0]!.discharge.positionLlh[2];
  // GeographicLib's EGM96 puts the geoid some 50 to 60 m above the ellipsoid in this part of the Atlantic.
  expect(measured - Number(altitude)).toBeGreaterThan(45);
  expect(measured - Number(altitude)).toBeLessThan(65);
});

test('a comment that looks like a formula or like markup stays text in every table', async () => {
  const contents = await island();
  const [first, ...rest] = contents.findings;
  const hostile: ReportContents = {
    ...contents,
    findings: [{ ...first!, finding: { ...first!.finding, comment: '=HYPERLINK("x")</value><b>&' } }, ...rest],
  };
  expect(findingsCsv(hostile)).toContain(`"'=HYPERLINK(""x"")`);
  expect(ogrinfo('f.kml', findingsKml(hostile))).toContain('=HYPERLINK("x")</value><b>&');
});

test('a western longitude stays a number in the CSV', async () => {
  const [head, row] = findingsCsv(await island()).split('\n');
  const column = head!.split(',').indexOf('lon_deg');
  expect(Number(row!.split(',')[column])).toBeLessThan(-29);
});

test('every measured column names its unit', async () => {
  const contents = await island();
  const [feature] = JSON.parse(findingsGeoJson(contents)).features;
  const counts = ['rays', 'passes', 'component_probability'];
  const bare = Object.entries(feature.properties)
    .filter(([name, value]) => typeof value === 'number' && !counts.includes(name) && !/_(m|deg|nm|per_s)$/.test(name))
    .map(([name]) => name);
  expect(bare).toEqual([]);
});

test('coverage has a row for every component, and no limit where nothing was seen', async () => {
  const contents = await island();
  const [head, ...rows] = coverageCsv(contents).trimEnd().split('\n');
  expect(head).toContain('found_with_95pct_from_photons_per_s');
  expect(rows).toHaveLength(contents.line.components.length);
  for (const row of rows.filter((each) => each.includes('not seen'))) expect(row).toContain(',not seen,0,,,');
});

test('findings.json passes its own schema, which is a JSON Schema that refuses unknown fields', async () => {
  const document = JSON.parse(findingsJson(await island()));
  expect(findingsDocument.safeParse(document).success).toBe(true);
  expect(findingsDocument.safeParse({ ...document, more: 1 }).success).toBe(false);
  expect(z.toJSONSchema(findingsDocument)).toMatchObject({ additionalProperties: false, type: 'object' });
});

test('GDAL reads the workbook: as many rows as findings and components, numbers as numbers, formula-like text as text', async () => {
  const contents = await island();
  const trap = { ...contents.findings[0]!, finding: { ...contents.findings[0]!.finding, comment: '=1+2' } };
  const said = ogrinfo(
    'findings.xlsx',
    await findingsXlsx({ ...contents, findings: [trap, ...contents.findings.slice(1)] }),
  );
  const [, findings = '', coverage = ''] = said.split('Layer name: ');
  expect(findings).toContain('Feature Count: 8');
  expect(coverage).toContain(`Feature Count: ${contents.coverage.length}`);
  expect(findings).toMatch(/lat_deg: Real/);
  expect(findings).toContain('comment (String) = =1+2');
  expect(Number(/lon_deg \(Real\) = (\S+)/.exec(findings)![1])).toBeCloseTo(trap.discharge.positionLlh[0], 6);
});

test('the workbook and the CSV of the coverage have the same cells', async () => {
  const contents = await island();
  const workbook = ogrinfo('findings.xlsx', await findingsXlsx(contents)).split('Layer name: Coverage')[1]!;
  const csv = ogrinfo('coverage.csv', coverageCsv(contents));
  const ids = (text: string) => [...text.matchAll(/component_id \(String\) = (.*)/g)].map(([, id]) => id);
  expect(ids(workbook)).toEqual(ids(csv));
  expect(ids(csv).length).toBe(contents.coverage.length);
});
