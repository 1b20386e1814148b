import type { LocalFrame } from '../earth/LocalFrame.ts';
import { PRIORITIES } from '../grade/Grade.ts';
import { COMPONENT_KINDS, type LineModel } from '../line/LineModel.ts';
import { distance, type Vec3 } from '../maths/vec3.ts';
import { accuracyFigures } from './accuracyFigures.ts';
import { componentLabel, placeLabel, sentenceCase } from './componentLabel.ts';
import { composeAppendix } from './composeAppendix.ts';
import { type CHANGE_ORDER, composeChanges } from './composeChanges.ts';
import { drawMap, drawStrip, lineExtent, type MapFinding } from './drawMap.ts';
import { flyAgainRows } from './flyAgainRows.ts';
import type { NumberText } from './numberText.ts';
import type { NumberedFinding, ReportContents } from './ReportContents.ts';
import type { Asset, FindingPage, FindingRow, PlacedImage, ReportModel } from './ReportModel.ts';
import { utcSpan } from './utcText.ts';
import { fill, fillPlural } from './words/fill.ts';
import type { Words } from './words/Words.ts';

/**
 * Everything of the report but the pages of the findings, which come in finished (they are made one at a time, so
 * that no more than one finding's pictures are in memory).
 * @returns the model that the page template prints, and the map drawings it refers to
 */
export function composeReport(
  contents: ReportContents,
  findingPages: readonly FindingPage[],
  setting: { words: Words; numbers: NumberText; frame: LocalFrame; tracksEnuM: readonly (readonly Vec3[])[] },
): { model: ReportModel; assets: Asset[] } {
  const { words, numbers } = setting;
  const { line, findings } = contents;
  const lastFlight = contents.flights.at(-1);
  const [year = 1970, month = 1, day = 1] = (lastFlight?.endUtc ?? '1970-01-01').slice(0, 10).split('-').map(Number);
  const maps = composeMaps(contents, setting);
  const clear = contents.coverage.filter(({ state }) => state === 'clear');
  const notSeen = contents.coverage.filter(({ state }) => state === 'not seen');
  const model: ReportModel = {
    language: words.language,
    region: words.region,
    title: fill(words.reportTitle, { line: line.name }),
    author: words.author,
    date: { year, month, day },
    volume: { number: 1, of: 1 },
    words: templateWords(words),
    cover: {
      kind: words.reportKind,
      line: line.name,
      rows: [
        { label: words.coverOwner, text: line.owner },
        {
          label: words.coverVoltage,
          text: fill(words.coverVoltageValue, { kv: numbers.asGiven(line.voltageKv, 4) }),
        },
        { label: words.coverLength, text: `${numbers.significant(lineLengthM(contents) / 1000, 3)}\u00a0km` },
        { label: words.coverCampaign, text: contents.name },
        {
          label: words.coverFlown,
          text: lastFlight === undefined ? '–' : utcSpan(contents.flights[0]!.startUtc, lastFlight.endUtc),
        },
        { label: words.coverFlights, text: contents.flights.map(({ name }) => name).join(', ') || '–' },
        {
          label: words.coverReview,
          text: fill(words.coverReviewValue, {
            reviewed:
              contents.rejected.length + findings.filter(({ finding }) => finding.decision === 'confirmed').length,
            all: findings.length + contents.rejected.length,
          }),
        },
        {
          label: words.coverSoftware,
          text: [...new Set(contents.flights.map(({ provenance }) => provenance.software))].join(', ') || '–',
        },
      ],
      figures: [
        {
          value: numbers.integer(findings.length),
          label: findings.length === 1 ? words.figureFindings.one : words.figureFindings.other,
          of: '',
        },
        {
          value: numbers.integer(findings.filter(({ finding }) => finding.grade.priority === 'act now').length),
          label: words.figureActNow,
          of: '',
        },
        {
          value: numbers.integer(clear.length),
          label: words.figureClear,
          of: fill(words.figureOf, { all: numbers.integer(contents.coverage.length) }),
        },
        {
          value: numbers.integer(notSeen.length),
          label: words.figureNotSeen,
          of: fill(words.figureOf, { all: numbers.integer(contents.coverage.length) }),
        },
      ],
      advice: words.coverAdvice,
      sign: words.coverSign,
      map: maps.cover,
    },
    summary: {
      paragraphs: summaryParagraphs(contents, words, numbers),
      priorities: PRIORITIES.map((priority, rank) => {
        const own = findings.filter(({ finding }) => finding.grade.priority === priority);
        return {
          rank,
          name: words.priorities[priority],
          meaning: words.priorityMeanings[priority],
          count: numbers.integer(own.length),
          numbers: own.map(({ number }) => `F${number}`),
        };
      }),
      rows: findings.map((each) => findingRow(each, line, words, numbers)),
    },
    maps: maps.pages,
    findings: findingPages,
    coverage: composeCoverage(contents, words, numbers),
    changes: composeChanges(contents, words, numbers),
    method: Object.values(words.methodParagraphs),
    appendix: composeAppendix(contents, words, numbers),
    cautions: Object.values(words.cautionItems),
    glossary: Object.values(words.glossaryItems).map(([label = '', text = '']) => ({ label, text })),
  };
  return { model, assets: maps.assets };
}

/** The catalogue's plain strings: the template takes its headings from here and has no words of its own. */
function templateWords(words: Words): Record<string, string> {
  return Object.fromEntries(
    Object.entries(words).filter((entry): entry is [string, string] => typeof entry[1] === 'string'),
  );
}

/** One row of the table of findings; each figure carries its unit in its cell. */
export function findingRow(each: NumberedFinding, line: LineModel, words: Words, numbers: NumberText): FindingRow {
  const { finding, discharge, component } = each;
  const figures = accuracyFigures(discharge.covarianceEnuM2);
  return {
    number: `F${each.number}`,
    rank: PRIORITIES.indexOf(finding.grade.priority),
    priority: words.priorities[finding.grade.priority],
    component: componentLabel(component, words),
    place: placeLabel(component, words, { line, positionEnuM: discharge.positionEnuM }),
    rate: numbers.rateLines(discharge.rate),
    accuracy: fill(words.accuracyShort, {
      h: numbers.significant(figures.horizontalM, 2),
      v: numbers.significant(figures.verticalM, 2),
    }),
    probability: numbers.percent(finding.componentProbability),
  };
}

function summaryParagraphs(contents: ReportContents, words: Words, numbers: NumberText): string[] {
  const { findings, rejected, coverage } = contents;
  const n = findings.length;
  const urgent = findings.filter(({ finding }) => isUrgent(finding.grade.priority)).length;
  const inState = (state: string) => numbers.integer(coverage.filter((row) => row.state === state).length);
  const paragraphs = [
    n === 0
      ? words.summaryEmpty
      : fillPlural(words.language, words.summaryLead, n, { n: numbers.integer(n), urgent: numbers.integer(urgent) }),
    fill(words.summaryClear, {
      all: numbers.integer(coverage.length),
      finding: inState('finding'),
      clear: inState('clear'),
      notSeen: inState('not seen'),
    }),
  ];
  const limits = clearLimits(contents);
  if (limits.length > 0)
    paragraphs.push(
      fill(words.summaryLimit, { median: numbers.limit(median(limits)), worst: numbers.limit(limits.at(-1)!) }),
    );
  if (contents.comparison !== null) {
    const told = (change: (typeof CHANGE_ORDER)[number]) =>
      numbers.integer(contents.changes.filter((one) => one.change === change).length);
    paragraphs.push(
      fill(words.summaryChanges, {
        campaign: contents.comparison.earlierCampaign,
        new: told('new'),
        grown: told('grown'),
        unchanged: told('unchanged'),
        faded: told('faded'),
        gone: told('gone'),
        notComparable: told('not comparable'),
      }),
    );
  }
  const suspects = contents.sightings.filter(({ dischargeId }) => dischargeId === null).length;
  if (suspects > 0)
    paragraphs.push(fillPlural(words.language, words.summarySuspects, suspects, { n: numbers.integer(suspects) }));
  if (rejected.length > 0)
    paragraphs.push(
      fillPlural(words.language, words.summaryRejected, rejected.length, { n: numbers.integer(rejected.length) }),
    );
  return paragraphs;
}

const isUrgent = (priority: string) => priority === 'act now' || priority === 'plan soon';

/** Detection limits of the clear components, rising, photons per second. */
const clearLimits = ({ coverage }: ReportContents) =>
  coverage
    .filter(({ state, limitHz }) => state === 'clear' && limitHz !== null)
    .map(({ limitHz }) => limitHz as number)
    .sort((a, b) => a - b);

/** The upper of the two middle values where their number is even: a limit is never flattered. */
const median = (rising: readonly number[]) => rising[Math.floor(rising.length / 2)] as number;

function composeCoverage(contents: ReportContents, words: Words, numbers: NumberText): ReportModel['coverage'] {
  const components = new Map(contents.line.components.map((component) => [component.id, component]));
  const byKind = COMPONENT_KINDS.flatMap((kind) => {
    const own = contents.coverage.filter(({ componentId }) => components.get(componentId)?.kind === kind);
    if (own.length === 0) return [];
    const limits = clearLimits({ ...contents, coverage: own });
    const inState = (state: string) => numbers.integer(own.filter((row) => row.state === state).length);
    return [
      [
        sentenceCase(words.kinds[kind]),
        numbers.integer(own.length),
        inState('finding'),
        inState('clear'),
        inState('not seen'),
        limits.length === 0 ? '–' : numbers.limit(median(limits)),
      ],
    ];
  });
  const shortened = contents.coverage.length > MOST_COVERAGE_ROWS;
  const listed = shortened ? contents.coverage.filter(({ state }) => state !== 'clear') : contents.coverage;
  const all = listed.map((row) => {
    const component = components.get(row.componentId) ?? null;
    return [
      row.componentId,
      component === null ? '–' : sentenceCase(words.kinds[component.kind]),
      component === null || component.circuit === '' ? '–' : `${component.circuit}, ${component.phase}`,
      placeLabel(component, words),
      words.states[row.state],
      numbers.integer(row.framesInView),
      row.nearestRangeM === null ? '–' : `${numbers.fixed(row.nearestRangeM, 1)}\u00a0m`,
      row.limitHz === null ? '–' : numbers.limit(row.limitHz),
    ];
  });
  const states = {
    finding: words.states.finding,
    clear: words.states.clear,
    notSeen: words.states['not seen'],
  };
  return {
    states,
    byKind,
    flyAgain: flyAgainRows(contents.coverage, components, words, numbers),
    all,
    allTitle: shortened ? words.coverageSome : words.coverageAll,
    note: shortened ? fill(words.coverageShortened, { all: numbers.integer(contents.coverage.length) }) : '',
  };
}

/** About ten pages of table; beyond, a reader wants the file. */
const MOST_COVERAGE_ROWS = 600;

function lineLengthM({ line }: ReportContents): number {
  let lengthM = 0;
  for (let k = 1; k < line.structures.length; k++)
    lengthM += distance(line.structures[k - 1]!.footEnuM, line.structures[k]!.footEnuM);
  return lengthM;
}

/** A sheet holds a kilometre of line, or a twentieth of a long one: an overview is followed by sheet after sheet. */
const sheetM = (lengthM: number) => Math.max(1000, lengthM / 20);

function composeMaps(
  contents: ReportContents,
  { words, numbers, tracksEnuM }: { words: Words; numbers: NumberText; tracksEnuM: readonly (readonly Vec3[])[] },
): { pages: ReportModel['maps']; cover: PlacedImage; assets: Asset[] } {
  const { line } = contents;
  const findings = contents.findings.map(
    ({ number, finding, discharge }): MapFinding => ({
      number,
      positionEnuM: discharge.positionEnuM,
      urgent: isUrgent(finding.grade.priority),
    }),
  );
  const components = new Map(line.components.map((component) => [component.id, component]));
  const notSeenAt = new Set(
    contents.coverage
      .filter(({ state }) => state === 'not seen')
      .flatMap(({ componentId }) => components.get(componentId)?.structureIds ?? []),
  );
  const assets: Asset[] = [];
  const [lonDeg, latDeg, heightM] = contents.originLlh;
  const origin = `${numbers.fixed(latDeg, 6)}°, ${numbers.fixed(lonDeg, 6)}°, ${numbers.fixed(heightM, 1)}\u00a0m`;
  const page = (title: string, windowM: ReturnType<typeof lineExtent>) => {
    const paper = { widthMm: 174, heightMm: 190, leastHeightMm: 70 };
    const map = drawMap(line, tracksEnuM, findings, windowM, paper, words, notSeenAt);
    const file = `map-${assets.length}.svg`;
    assets.push({ file, content: map.svg });
    const scale = fill(words.mapOneTo, { denominator: numbers.integer(Number(map.denominator.toPrecision(2))) });
    return {
      title,
      image: { file, widthMm: map.widthMm, heightMm: map.heightMm, alt: title },
      caption: `${fill(words.mapCaption, { origin, scale })} ${fill(words.metreGrid, { step: numbers.integer(map.gridStepM) })}.`,
    };
  };
  const whole = lineExtent(line, findings);
  const strip = drawStrip(line, findings, whole, { widthMm: 174, heightMm: 75, leastHeightMm: 20 });
  assets.push({ file: 'cover.svg', content: strip.svg });
  const cover = { file: 'cover.svg', widthMm: strip.widthMm, heightMm: strip.heightMm, alt: words.mapWhole };
  const pages = [page(words.mapWhole, whole)];
  for (const [n, sheet] of sheetsOf(contents).entries()) {
    const own = line.structures.slice(sheet.first, sheet.last + 1);
    const ids = new Set(own.map(({ id }) => id));
    const near = line.components.filter(({ structureIds }) => structureIds.every((id) => ids.has(id)));
    pages.push(
      page(
        fill(words.mapSheet, { n: n + 1, from: own[0]!.id, to: own.at(-1)!.id }),
        lineExtent({ ...line, structures: own, components: near }, []),
      ),
    );
  }
  return { pages, cover, assets };
}

/** Consecutive structures that fit a sheet; neighbouring sheets share a structure. None where one sheet holds the line. */
function sheetsOf(contents: ReportContents): { first: number; last: number }[] {
  const mostM = sheetM(lineLengthM(contents));
  if (lineLengthM(contents) <= mostM) return [];
  const { structures } = contents.line;
  const sheets: { first: number; last: number }[] = [];
  let first = 0;
  while (first < structures.length - 1) {
    let last = first + 1;
    let lengthM = distance(structures[first]!.footEnuM, structures[last]!.footEnuM);
    while (last + 1 < structures.length) {
      lengthM += distance(structures[last]!.footEnuM, structures[last + 1]!.footEnuM);
      if (lengthM > mostM) break;
      last += 1;
    }
    sheets.push({ first, last });
    first = last;
  }
  return sheets;
}
