import { mkdir, mkdtemp, rename, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { basename, dirname, join } from 'node:path';
import type { CampaignStore } from '../../campaign/CampaignStore.ts';
import { openGeoPackageCampaign } from '../../campaign/openGeoPackageCampaign.ts';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { PRIORITIES } from '../../grade/Grade.ts';
import { InputError } from '../../input/InputError.ts';
import { composeChanges } from '../../report/composeChanges.ts';
import { composeFindingPage } from '../../report/composeFindingPage.ts';
import { composeReport } from '../../report/composeReport.ts';
import { drawMap, lineExtent } from '../../report/drawMap.ts';
import type { EvidenceEntry, EvidenceLanguage } from '../../report/evidence/EvidenceContents.ts';
import { evidencePage } from '../../report/evidence/evidencePage.ts';
import { coverageCsv, findingsCsv } from '../../report/findingsCsv.ts';
import { findingsJson } from '../../report/findingsDocument.ts';
import { findingsGeoJson } from '../../report/findingsGeoJson.ts';
import { findingsKml } from '../../report/findingsKml.ts';
import { findingsXlsx } from '../../report/findingsXlsx.ts';
import { numberTextFor } from '../../report/numberText.ts';
import { type ReportContents, reportContents } from '../../report/ReportContents.ts';
import type { FindingPage, PlacedImage } from '../../report/ReportModel.ts';
import { REPORT_LANGUAGES, type ReportLanguage, wordsOf } from '../../report/words/wordsOf.ts';
import { Interrupted, type JobWatch } from '../JobWatch.ts';
import { zipFolder } from './zipFolder.ts';

export interface ExportedEvidence {
  /** The page to open, or the ZIP file that holds it. */
  readonly file: string;
  readonly findings: number;
  readonly pictures: number;
}

/**
 * Writes the hand-over of a campaign. The same campaign gives the same bytes. Pictures go out one finding at a time.
 * @param out a folder, or a file whose name ends in `.zip`; it appears whole or not at all
 * @throws InputError where there is no inspected campaign, or the folder is there and holds something else
 */
export async function exportEvidence(campaignFile: string, out: string, watch?: JobWatch): Promise<ExportedEvidence> {
  const store = openGeoPackageCampaign(campaignFile, { create: false });
  try {
    return await exportEvidenceOf(store, campaignFile, out, watch);
  } finally {
    store.close();
  }
}

/** The hand-over of an open campaign. */
export async function exportEvidenceOf(
  store: CampaignStore,
  campaignName: string,
  out: string,
  watch?: JobWatch,
): Promise<ExportedEvidence> {
  const contents = reportContents(store);
  if (contents === null || contents.flights.length === 0)
    throw new InputError({
      file: campaignName,
      found: 'a campaign that holds no inspection yet',
      expected: 'at least one inspected flight',
      todo: 'Run `corposant inspect` on a flight with this campaign first.',
    });
  const zipped = out.toLowerCase().endsWith('.zip');
  await mkdir(dirname(out), { recursive: true });
  // Beside the target, so that the last step is a rename.
  const draft = zipped ? await mkdtemp(join(tmpdir(), 'corposant-evidence-')) : `${out}.part`;
  await rm(draft, { recursive: true, force: true });
  await mkdir(draft, { recursive: true });
  try {
    const pictures = await writeFolder(store, contents, draft, watch);
    if (zipped) {
      await zipFolder(draft, `${out}.part`, basename(out).replace(/\.zip$/i, ''));
      await rename(`${out}.part`, out);
    } else {
      await replaceFolder(draft, out);
    }
    return { file: zipped ? out : join(out, 'index.html'), findings: contents.findings.length, pictures };
  } finally {
    await rm(draft, { recursive: true, force: true });
  }
}

/** Puts the new folder in the place of an earlier hand-over; anything else that stands there is not ours to remove. */
async function replaceFolder(draft: string, out: string): Promise<void> {
  try {
    await rename(draft, out);
    return;
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code;
    if (code !== 'ENOTEMPTY' && code !== 'EEXIST' && code !== 'ENOTDIR') throw error;
  }
  const { existsSync } = await import('node:fs');
  if (!existsSync(join(out, 'index.html')) || !existsSync(join(out, 'tables', 'findings.json')))
    throw new InputError({
      file: out,
      found: 'a folder that holds something else',
      expected: 'a folder that does not exist yet, or an earlier hand-over',
      todo: 'Name another folder.',
    });
  const old = `${out}.old`;
  await rename(out, old);
  await rename(draft, out);
  await rm(old, { recursive: true, force: true });
}

async function writeFolder(
  store: CampaignStore,
  contents: ReportContents,
  folder: string,
  watch: JobWatch | undefined,
): Promise<number> {
  await mkdir(join(folder, 'pictures'));
  const pages = new Map<ReportLanguage, FindingPage[]>(REPORT_LANGUAGES.map((language) => [language, []]));
  const frame = localFrameAt(contents.originLlh);
  const tracksEnuM = contents.flights.map(({ trackLlh }) => trackLlh.map((llh) => frame.enuFromLlh(llh)));
  let pictures = 0;
  for (const [k, each] of contents.findings.entries()) {
    if (watch?.signal?.aborted) throw new Interrupted();
    const evidence = store.evidenceOf(each.finding.id);
    const earlier = store.earlierPictureOf(each.finding.id);
    for (const language of REPORT_LANGUAGES) {
      const words = wordsOf(language);
      const setting = { words, numbers: numberTextFor(words), frame, tracksEnuM };
      const { page, assets } = composeFindingPage(contents, each, evidence, earlier, setting);
      for (const { file, content } of assets) {
        const name = fileOf(file, language);
        if (typeof content === 'string') await writeFile(join(folder, name), withFallbackFonts(content));
        else if (language === REPORT_LANGUAGES[0]) {
          await writeFile(join(folder, name), content);
          pictures++;
        }
      }
      pages.get(language)!.push(withFiles(page, language));
    }
    watch?.progress('Writing the evidence', k + 1, contents.findings.length, 'findings');
  }
  const entries = contents.findings.map(
    (each): EvidenceEntry => ({
      id: each.finding.id,
      number: `F${each.number}`,
      rank: PRIORITIES.indexOf(each.finding.grade.priority),
      change: each.change?.change ?? null,
      rateHz: each.discharge.rate.rateHz,
      place: placeOf(each, contents),
    }),
  );
  const languages = REPORT_LANGUAGES.map((language) =>
    languageOf(contents, language, pages.get(language)!, { frame, tracksEnuM }),
  );
  await writeFile(join(folder, 'index.html'), evidencePage({ entries, languages }));
  await mkdir(join(folder, 'tables'));
  const table = (name: string, content: string | Uint8Array) => writeFile(join(folder, 'tables', name), content);
  await table('findings.csv', findingsCsv(contents));
  await table('coverage.csv', coverageCsv(contents));
  await table('findings.geojson', findingsGeoJson(contents));
  await table('findings.kml', findingsKml(contents));
  await table('findings.xlsx', await findingsXlsx(contents));
  await table('findings.json', findingsJson(contents));
  return pictures;
}

/** Pictures are the same in every language; drawings carry its decimal mark. */
const fileOf = (file: string, language: ReportLanguage): string =>
  file.endsWith('.svg') ? `pictures/${file.replace(/\.svg$/, `-${language}.svg`)}` : `pictures/${file}`;

/** The typesetter has the typeface; a browser may not. */
const withFallbackFonts = (svg: string): string =>
  svg.replaceAll('font-family="Inter"', 'font-family="Inter, system-ui, Arial, sans-serif"');

function withFiles(page: FindingPage, language: ReportLanguage): FindingPage {
  const image = (one: PlacedImage): PlacedImage => ({ ...one, file: fileOf(one.file, language) });
  const pair = <T extends { picture: PlacedImage; drawing: PlacedImage }>(one: T | null): T | null =>
    one === null ? null : { ...one, picture: image(one.picture), drawing: image(one.drawing) };
  return {
    ...page,
    overlay: pair(page.overlay),
    plain: pair(page.plain),
    second: pair(page.second),
    plan: { ...page.plan, image: image(page.plan.image) },
    side: page.side === null ? null : { ...page.side, image: image(page.side.image) },
  };
}

const placeOf = ({ component }: ReportContents['findings'][number], { line }: ReportContents): number =>
  Math.min(
    line.structures.length,
    ...(component?.structureIds ?? []).map((id) => line.structures.findIndex((structure) => structure.id === id)),
  );

const LANGUAGE_NAMES: Readonly<Record<ReportLanguage, string>> = { en: 'English', de: 'Deutsch' };

function languageOf(
  contents: ReportContents,
  language: ReportLanguage,
  pages: readonly FindingPage[],
  { frame, tracksEnuM }: Pick<Parameters<typeof composeReport>[2], 'frame' | 'tracksEnuM'>,
): EvidenceLanguage {
  const words = wordsOf(language);
  const numbers = numberTextFor(words);
  const { model } = composeReport(contents, [], { words, numbers, frame, tracksEnuM });
  const changes = composeChanges(contents, words, numbers);
  const findings = contents.findings.map(({ number, finding, discharge }) => ({
    number,
    positionEnuM: discharge.positionEnuM,
    urgent: finding.grade.priority === 'act now' || finding.grade.priority === 'plan soon',
  }));
  const map = drawMap(
    contents.line,
    tracksEnuM,
    findings,
    lineExtent(contents.line, findings),
    { widthMm: 290, heightMm: 120, leastHeightMm: 50 },
    words,
  );
  return {
    code: language,
    name: LANGUAGE_NAMES[language],
    title: model.title,
    // What follows speaks of the report's appendix, which is not here.
    lead: model.summary.paragraphs.slice(0, contents.comparison === null ? 3 : 4),
    facts: model.cover.rows,
    priorities: PRIORITIES.map((priority) => words.priorities[priority]),
    changeNames: words.changeKinds,
    words: model.words,
    cautions: model.cautions,
    mapSvg: withFallbackFonts(map.svg),
    rates: contents.findings.map(({ discharge }) => numbers.limit(discharge.rate.rateHz)),
    pages,
    changes:
      changes === null
        ? null
        : {
            lead: changes.lead,
            head: [
              words.colFinding,
              words.colChange,
              words.colComponent,
              words.colThen,
              words.colNow,
              words.colRatio,
              words.colBecause,
            ],
            rows: changes.rows,
          },
  };
}
