import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { CHANGE_KINDS } from '../grade/change/tellChanges.ts';
import { PRIORITIES } from '../grade/Grade.ts';
import { campaignTable } from './campaignTables.ts';
import { MAP_STYLES } from './mapStyles.ts';
import { temporaryFolder } from './smallCampaign.testdata.ts';

test('every style is of a feature layer, and filters by a column that the layer has', () => {
  for (const { table, sld } of MAP_STYLES) {
    const definition = campaignTable(table);
    expect(definition.geometry, table).not.toBeNull();
    const [, column] = /<ogc:PropertyName>([^<]+)/.exec(sld) ?? [];
    if (column !== undefined) expect(Object.keys(definition.columns)).toContain(column);
    // A point is drawn by a point symbolizer, a line by a line symbolizer.
    expect(sld.includes('<se:PointSymbolizer>')).toBe(definition.geometry === 'POINT');
    expect(sld.includes('<se:LineSymbolizer>')).toBe(definition.geometry === 'LINESTRING');
  }
});

test('no priority, change or state of coverage is left undrawn', () => {
  const drawn = (table: string) =>
    [...MAP_STYLES.find((style) => style.table === table)!.sld.matchAll(/<ogc:Literal>([^<]+)/g)].map(
      ([, value]) => value,
    );
  expect(drawn('findings').sort()).toEqual([...PRIORITIES].sort());
  expect(drawn('changes').sort()).toEqual([...CHANGE_KINDS].sort());
  expect(drawn('coverage').sort()).toEqual(['clear', 'finding', 'not seen']);
});

test('each style is well-formed XML to another program', () => {
  const folder = temporaryFolder();
  for (const { file, sld } of MAP_STYLES) writeFileSync(join(folder, file), sld);
  const files = MAP_STYLES.map(({ file }) => join(folder, file));
  execFileSync('python3', ['-c', 'import sys, xml.dom.minidom as m; [m.parse(f) for f in sys.argv[1:]]', ...files]);
});
