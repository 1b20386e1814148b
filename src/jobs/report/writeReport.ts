import { mkdir, mkdtemp, rename, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { CampaignStore } from '../../campaign/CampaignStore.ts';
import { MAP_STYLES } from '../../campaign/mapStyles.ts';
import { openGeoPackageCampaign } from '../../campaign/openGeoPackageCampaign.ts';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { InputError } from '../../input/InputError.ts';
import { composeFindingPage } from '../../report/composeFindingPage.ts';
import { composeReport } from '../../report/composeReport.ts';
import { coverageCsv, findingsCsv } from '../../report/findingsCsv.ts';
import { findingsJson } from '../../report/findingsDocument.ts';
import { findingsGeoJson } from '../../report/findingsGeoJson.ts';
import { findingsKml } from '../../report/findingsKml.ts';
import { findingsXlsx } from '../../report/findingsXlsx.ts';
import { numberTextFor } from '../../report/numberText.ts';
import { PAGE_TEMPLATE } from '../../report/pageTemplate.ts';
import { reportContents } from '../../report/ReportContents.ts';
import type { Asset, FindingPage } from '../../report/ReportModel.ts';
import { volumesOf } from '../../report/volumesOf.ts';
import { type ReportLanguage, wordsOf } from '../../report/words/wordsOf.ts';
import { Interrupted, type JobWatch } from '../JobWatch.ts';
import { typesetPdf } from './typesetPdf.ts';

export interface ReportOptions {
  readonly language: ReportLanguage;
  readonly watch?: JobWatch;
}

export interface WrittenReport {
  /** The report, or its first volume. */
  readonly pdfFile: string;
  readonly pdfFiles: readonly string[];
  readonly geojsonFile: string;
  readonly csvFile: string;
  readonly coverageCsvFile: string;
  readonly kmlFile: string;
  readonly jsonFile: string;
  readonly xlsxFile: string;
  readonly pages: number;
  readonly findings: number;
}

/**
 * Writes the report of a campaign file, in one language, and its findings as GeoJSON, KML, CSV and JSON beside it.
 * The same campaign gives the same bytes, on any day.
 * @throws InputError where there is no campaign, or one without an inspected flight
 */
export async function writeReport(
  campaignFile: string,
  outFolder: string,
  options: ReportOptions,
): Promise<WrittenReport> {
  const store = openGeoPackageCampaign(campaignFile, { create: false });
  try {
    return await writeReportOf(store, campaignFile, outFolder, options);
  } finally {
    store.close();
  }
}

/**
 * Writes the report of an open campaign. Pictures go to a scratch folder one finding at a time; a file in `outFolder`
 * appears whole or not at all.
 */
export async function writeReportOf(
  store: CampaignStore,
  campaignName: string,
  outFolder: string,
  { language, watch }: ReportOptions,
): Promise<WrittenReport> {
  const contents = reportContents(store);
  if (contents === null)
    throw new InputError({
      file: campaignName,
      found: 'a campaign that holds no inspection yet',
      expected: 'at least one inspected flight',
      todo: 'Run `corposant inspect` on a flight with this campaign first.',
    });
  const words = wordsOf(language);
  const numbers = numberTextFor(words);
  const frame = localFrameAt(contents.originLlh);
  const tracksEnuM = contents.flights.map(({ trackLlh }) => trackLlh.map((llh) => frame.enuFromLlh(llh)));
  const setting = { words, numbers, frame, tracksEnuM };

  await mkdir(outFolder, { recursive: true });
  const workspace = await mkdtemp(join(tmpdir(), 'corposant-report-'));
  const keep = async (assets: readonly Asset[]) => {
    for (const { file, content } of assets) await writeFile(join(workspace, file), content);
  };
  try {
    const pages: FindingPage[] = [];
    for (const each of contents.findings) {
      if (watch?.signal?.aborted) throw new Interrupted();
      const { page, assets } = composeFindingPage(
        contents,
        each,
        store.evidenceOf(each.finding.id),
        store.earlierPictureOf(each.finding.id),
        setting,
      );
      await keep(assets);
      pages.push(page);
      watch?.progress('Drawing the findings', pages.length, contents.findings.length, 'findings');
    }
    const { model, assets } = composeReport(contents, pages, setting);
    await keep(assets);
    const volumes = volumesOf(model);
    await writeFile(join(workspace, 'report.typ'), PAGE_TEMPLATE);
    const out = async (name: string, content: string | Uint8Array) => {
      const file = join(outFolder, name);
      await writeWhole(file, content);
      return file;
    };
    let pageCount = 0;
    const pdfFiles: string[] = [];
    for (const [k, volume] of volumes.entries()) {
      if (watch?.signal?.aborted) throw new Interrupted();
      watch?.progress('Setting the pages', k, volumes.length, 'volumes');
      await writeFile(join(workspace, 'report.json'), JSON.stringify(volume));
      const { pdf, pages } = typesetPdf(workspace, 'report.typ');
      pdfFiles.push(await out(k === 0 ? 'report.pdf' : `report-${k + 1}.pdf`, pdf));
      pageCount += pages;
    }
    watch?.progress('Setting the pages', volumes.length, volumes.length, 'volumes');
    const geojsonFile = await out('findings.geojson', findingsGeoJson(contents));
    const csvFile = await out('findings.csv', findingsCsv(contents));
    const coverageCsvFile = await out('coverage.csv', coverageCsv(contents));
    const kmlFile = await out('findings.kml', findingsKml(contents));
    const jsonFile = await out('findings.json', findingsJson(contents));
    const xlsxFile = await out('findings.xlsx', await findingsXlsx(contents));
    for (const { file, sld } of MAP_STYLES) await out(file, sld);
    return {
      pdfFile: pdfFiles[0]!,
      pdfFiles,
      geojsonFile,
      csvFile,
      coverageCsvFile,
      kmlFile,
      jsonFile,
      xlsxFile,
      pages: pageCount,
      findings: contents.findings.length,
    };
  } finally {
    await rm(workspace, { recursive: true, force: true });
  }
}

/** Through a neighbour and a rename, so that whoever opens the file never sees half of it. */
async function writeWhole(file: string, content: string | Uint8Array): Promise<void> {
  const draft = `${file}.part`;
  await writeFile(draft, content);
  await rename(draft, file);
}
