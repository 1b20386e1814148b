import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { CampaignStore } from '../../campaign/CampaignStore.ts';
import { MAP_STYLES } from '../../campaign/mapStyles.ts';
import { accuracyFigures } from '../../report/accuracyFigures.ts';
import { islandCampaign } from '../../report/islandCampaign.testdata.ts';
import { numberTextFor } from '../../report/numberText.ts';
import { wordsOf } from '../../report/words/wordsOf.ts';
import { type WrittenReport, writeReportOf } from './writeReport.ts';

/** Runs one of poppler's tools; its absence fails the test, as nothing then has read the PDF from outside. */
function poppler(tool: 'pdftotext' | 'pdfinfo' | 'pdffonts', ...args: string[]): string {
  try {
    return execFileSync(tool, args, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'ignore'] });
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT')
      throw new Error(`${tool} is missing: install the Debian package poppler-utils, or poppler for your system`);
    throw error;
  }
}
const plainSpaces = (text: string) => text.replace(/[\s\u00a0\u202f]+/g, ' ');
const textOf = (file: string) => plainSpaces(poppler('pdftotext', '-layout', file, '-'));

let folder: string;
let store: CampaignStore;
let english: WrittenReport;
let german: WrittenReport;
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'corposant-'));
  store = await islandCampaign();
  english = await writeReportOf(store, 'tarnay.gpkg', join(folder, 'en'), { language: 'en' });
  german = await writeReportOf(store, 'tarnay.gpkg', join(folder, 'de'), { language: 'de' });
}, 60_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

test('each finding has a page with its place, its accuracy, its rate and its photon events', () => {
  const text = textOf(english.pdfFile);
  const numbers = numberTextFor(wordsOf('en'));
  for (const { id, decision } of store.findings()) {
    const { positionLlh, covarianceEnuM2, rate } = store.discharges().find((each) => each.id === id)!;
    expect(text).toContain(plainSpaces(numbers.rate(rate)));
    if (decision === 'rejected') continue;
    const place = `${numbers.fixed(positionLlh[1], 7)}°, ${numbers.fixed(positionLlh[0], 7)}°`;
    expect(text).toContain(place);
    const { horizontalM, verticalM } = accuracyFigures(covarianceEnuM2);
    expect(text).toContain(`${horizontalM.toPrecision(2)} m horizontal, ${verticalM.toPrecision(2)} m vertical`);
  }
  expect(text).toContain('WGS 84, EPSG:4979');
  expect(text).toContain('EPSG:32626');
});

test('the report tells what was left out, what is not seen, and whose decision stands', () => {
  const text = textOf(english.pdfFile);
  expect(text).toContain('no pose: gap in the trajectory 212');
  expect(text).toContain('glint of the sun');
  expect(text).toContain('not seen');
  expect(text).toContain('rejected by I. Varnholt');
  expect(text).toContain('registration, held-out rms 0.27 px');
  expect(text).toContain(store.flights()[0]!.provenance.registrationHash);
});

test('cautions defer to the owner, to law and to qualified people, and no sentence orders work', () => {
  const text = textOf(english.pdfFile);
  expect(text).toContain('The line owner’s rules and the law, codes and standards of the place come before');
  expect(text).toContain('Keep the approach distances that apply to you');
  expect(text).toContain('no order to switch, to climb, to touch or to work');
});

test('German says the same figures with German words and decimal commas, and leaves no place unfilled', () => {
  const text = textOf(german.pdfFile);
  expect(text).toContain('Befund 1 von 7');
  expect(text).toContain('Annäherungsabstände');
  expect(text).toMatch(/44,08\d{5}°/);
  expect(text).not.toMatch(/\{\w+\}|undefined|NaN/);
  expect(textOf(english.pdfFile)).not.toMatch(/\{\w+\}|undefined|NaN/);
});

test('each finding keeps to one page, in both languages', () => {
  for (const { pdfFile, findings } of [english, german]) {
    const pages = poppler('pdftotext', '-layout', pdfFile, '-').split('\f');
    const heads = pages.flatMap((page, k) => (/^\s*(Finding|Befund) \d+ (of|von) 7/m.test(page) ? [k] : []));
    expect(heads).toHaveLength(findings);
    expect(heads.at(-1)! - heads[0]!).toBe(findings - 1);
    const next = plainSpaces(pages[heads.at(-1)! + 1]!);
    expect(next).toMatch(/Coverage|Abdeckung/);
  }
});

test('no figure in the table of findings stands without a unit', () => {
  const pages = poppler('pdftotext', '-layout', english.pdfFile, '-').split('\f');
  const table = pages.find((page) => page.includes('Table of findings'))!.split('Table of findings')[1]!;
  const bare = plainSpaces(table)
    // Names of findings, circuits, phases and structures are no figures.
    .replace(/\bF\d+\b|circuit \d+|phase L\d|\bL\d\b|\bK\d+\b|Page \d+ of \d+|95 % interval/g, '')
    .replace(/\(?[\d.]+( to [\d.]+\))? × 10[⁰¹²³⁴-⁹]+ photons\/s/g, '')
    .replace(/[\d.]+ (m|%)(?= |$)/g, '')
    .match(/\d[\d.]*/g);
  expect(bare).toBeNull();
});

test('the same campaign gives the same bytes, and nothing but whole files is left in the folder', async () => {
  const again = await writeReportOf(store, 'tarnay.gpkg', join(folder, 'again'), { language: 'en' });
  const hash = (file: string) => createHash('sha256').update(readFileSync(file)).digest('hex');
  const files = readdirSync(join(folder, 'again')).sort();
  expect(files).toEqual([
    'coverage.csv',
    'findings.csv',
    'findings.geojson',
    'findings.json',
    'findings.kml',
    'findings.xlsx',
    'report.pdf',
    ...MAP_STYLES.map(({ file }) => file).sort(),
  ]);
  for (const file of files) expect(hash(join(folder, 'again', file)), file).toBe(hash(join(folder, 'en', file)));
  expect(again.pages).toBe(english.pages);
});

test('the PDF is tagged PDF/A-2a of A4 pages, dated by the last flight, with Inter embedded and no other face', () => {
  const info = poppler('pdfinfo', english.pdfFile);
  expect(info).toMatch(/Tagged:\s+yes/);
  expect(info).toMatch(/Page size:.*A4/);
  const bytes = readFileSync(english.pdfFile).toString('latin1');
  expect(bytes).toContain('<pdfaid:part>2</pdfaid:part>');
  expect(bytes).toContain('<pdfaid:conformance>A</pdfaid:conformance>');
  expect(bytes).toMatch(/CreationDate\s*\(D:20260512/);
  const fonts = poppler('pdffonts', english.pdfFile).trimEnd().split('\n').slice(2);
  expect(fonts.length).toBeGreaterThan(0);
  for (const font of fonts) {
    expect(font).toMatch(/\+Inter-/);
    expect(font).toMatch(/yes yes yes/);
  }
});

test('a campaign without an inspection is told what to do first', async () => {
  const empty = { ...store, about: () => null };
  await expect(writeReportOf(empty, 'new.gpkg', join(folder, 'none'), { language: 'en' })).rejects.toThrow(
    /new\.gpkg: found a campaign that holds no inspection yet.*corposant inspect/,
  );
});

test('a report that is called off leaves no file behind', async () => {
  const stop = new AbortController();
  stop.abort();
  const watch = { progress: () => undefined, note: () => undefined, signal: stop.signal };
  await expect(writeReportOf(store, 'tarnay.gpkg', join(folder, 'stopped'), { language: 'en', watch })).rejects.toThrow(
    /Interrupted/,
  );
  expect(readdirSync(join(folder, 'stopped'))).toEqual([]);
});
