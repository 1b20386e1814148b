import type { EvidenceRecord } from '../campaign/records.ts';
import type { LocalFrame } from '../earth/LocalFrame.ts';
import { projectedFromLlh, projectedSystem, utmCodeAt } from '../earth/projected.ts';
import { PRIORITIES } from '../grade/Grade.ts';
import type { Reason } from '../grade/Reason.ts';
import { distance, type Vec3 } from '../maths/vec3.ts';
import { accuracyFigures } from './accuracyFigures.ts';
import { componentLabel, placeLabel, sentenceCase } from './componentLabel.ts';
import { historyRows } from './composeChanges.ts';
import { conditionText } from './conditionRows.ts';
import { drawContext, drawEvidence, type EvidenceDrawing } from './drawEvidence.ts';
import { drawRayPlan } from './drawRayPlan.ts';
import { drawSideView } from './drawSideView.ts';
import type { NumberText } from './numberText.ts';
import type { NumberedFinding, ReportContents } from './ReportContents.ts';
import type { Asset, FindingPage, LabelledText, PlacedImage } from './ReportModel.ts';
import { reasonInWords, reasonsInWords } from './reasonWords.ts';
import { utcSpan, utcText } from './utcText.ts';
import { fill, fillPlural } from './words/fill.ts';
import { inLanguage } from './words/inLanguage.ts';
import type { Words } from './words/Words.ts';

const OVERLAY_BOX = { widthMm: 104, heightMm: 74 };
const SIDE_BOX = { widthMm: 64, heightMm: 32 };

/** What every page of a finding shares. */
export interface PageSetting {
  readonly words: Words;
  readonly numbers: NumberText;
  readonly frame: LocalFrame;
  readonly tracksEnuM: readonly (readonly Vec3[])[];
}

/** One finding's page and the pictures on it. */
export function composeFindingPage(
  contents: ReportContents,
  { number, finding, discharge, component, change }: NumberedFinding,
  evidence: readonly EvidenceRecord[],
  earlierPicture: EvidenceRecord | null,
  setting: PageSetting,
): { page: FindingPage; assets: Asset[] } {
  const { words, numbers, frame } = setting;
  const stem = `finding-${String(number).padStart(4, '0')}`;
  const assets: Asset[] = [];
  const keep = (
    name: string,
    content: string | Uint8Array,
    size: { widthMm: number; heightMm: number },
    alt: string,
  ): PlacedImage => {
    const file = `${stem}-${name}`;
    assets.push({ file, content });
    return { file, widthMm: size.widthMm, heightMm: size.heightMm, alt };
  };
  const label = componentLabel(component, words);

  // The nearest look shows the hardware best.
  const [first, nextBest] = [...evidence].sort((a, b) => a.rangeM - b.rangeM);
  // Last year's picture tells more than a second one of this year.
  const second = earlierPicture ?? nextBest;
  const pair = (record: EvidenceRecord, name: string, box: { widthMm: number; heightMm: number }) => {
    const drawn = drawEvidence(record, box, words.decimalMark);
    const alt = fill(words.findingAlt, { component: label });
    return {
      drawn,
      part: closeUpOf(record, drawn, keep(`${name}.jpg`, record.colourJpeg, drawn, alt)),
      drawing: keep(`${name}.svg`, drawn.svg, drawn, alt),
    };
  };
  const main = first === undefined ? null : pair(first, 'a', OVERLAY_BOX);
  const other = second === undefined ? null : pair(second, 'b', SIDE_BOX);

  const context = main === null || first === undefined ? null : drawContext(first, main.drawn.window, SIDE_BOX);

  const cameras = evidence.map((record) => ({
    enuM: frame.enuFromLlh(record.cameraLlh),
    rangeText: `${numbers.fixed(record.rangeM, 1)}\u00a0m`,
  }));
  const plan = drawRayPlan(
    contents.line,
    discharge.positionEnuM,
    cameras,
    setting.tracksEnuM,
    finding.componentId,
    SIDE_BOX,
    words,
  );
  const side = drawSideView(contents.line, discharge.positionEnuM, component, SIDE_BOX, words.decimalMark);
  const sideCaption =
    side === null
      ? ''
      : side.kind === 'structure'
        ? fill(words.sideCaptionStructure, { structure: side.structureId })
        : fill(side.stretch > 1 ? words.sideCaptionSpan : words.sideCaptionSpanTrue, {
            span: side.structureIds.join(' – '),
            times: side.stretch,
          });

  const page: FindingPage = {
    number: `F${number}`,
    anchor: stem,
    rank: PRIORITIES.indexOf(finding.grade.priority),
    priority: words.priorities[finding.grade.priority],
    component: label,
    place: placeLabel(component, words, { line: contents.line, positionEnuM: discharge.positionEnuM }),
    of: [fill(words.findingOf, { n: number, all: contents.findings.length }), finding.componentId ?? '']
      .filter((text) => text !== '')
      .join(' · '),
    overlay:
      main === null || first === undefined
        ? null
        : { ...main.part, drawing: main.drawing, caption: overlayCaption(first, main.drawn, words, numbers) },
    plain:
      context === null || main === null || first === undefined
        ? null
        : {
            picture: {
              ...main.part.picture,
              widthMm: context.widthMm,
              heightMm: context.heightMm,
              alt: words.plainAlt,
            },
            drawing: keep('c.svg', context.svg, context, words.plainAlt),
            caption: fill(words.plainCaption, {
              utc: utcText(first.utc),
              flight: first.flight,
              frame: numbers.integer(first.colourFrame),
            }),
          },
    second:
      other === null || second === undefined
        ? null
        : {
            ...other.part,
            drawing: other.drawing,
            caption: fill(earlierPicture === null ? words.secondCaption : words.earlierCaption, {
              utc: utcText(second.utc),
              flight: second.flight,
              range: numbers.fixed(second.rangeM, 1),
            }),
          },
    plan: { image: keep('plan.svg', plan.svg, plan, words.planAlt), caption: words.planCaption },
    side: side === null ? null : { image: keep('side.svg', side.svg, side, words.sideAlt), caption: sideCaption },
    where: whereRows(contents, discharge, component?.structureIds[0], words, numbers),
    strength: strengthRows(discharge, words, numbers),
    conditions: conditionsOf(contents, finding.id, first, words, numbers),
    candidates: candidateRows(contents, discharge, words, numbers),
    grade: [
      { label: words.priority, text: words.priorities[finding.grade.priority] },
      { label: words.rule, text: inLanguage(finding.grade.rule, words) },
      { label: words.expectednessLabel, text: words.expectedness[finding.grade.expectedness] },
      {
        label: words.reasoning,
        text: reasonsInWords(expectationReasons(finding.grade.reasons), finding.grade.reasoning, words, numbers),
      },
      { label: words.advice, text: inLanguage(finding.grade.advice, words) },
      {
        label: words.change,
        text:
          change === undefined
            ? words.changeNone
            : `${sentenceCase(words.changeKinds[change.change])}. ${reasonInWords(change.because, words, numbers)}`,
      },
    ],
    history: historyRows(
      contents,
      change,
      [
        contents.sightings
          .filter(({ dischargeId }) => dischargeId === finding.id)
          .map(({ fromUtc }) => fromUtc.slice(0, 10))
          .sort()[0] ?? '–',
        numbers.rateLines(discharge.rate),
        `${numbers.fixed(discharge.nearestRangeM, 1)}\u00a0m`,
        words.weathers[contents.flights[0]?.conditions.weather ?? 'dry'],
        words.priorities[finding.grade.priority],
      ],
      words,
      numbers,
    ),
    review: reviewRows(contents, finding.id, finding.decision, finding.comment, words),
    notes: [
      ...(discharge.heldByLine ? [words.heldByLine] : []),
      ...(discharge.asMounted
        ? [
            fill(words.asMounted, {
              m: numbers.significant(distance(discharge.positionEnuM, discharge.asMounted.positionEnuM), 2),
            }),
          ]
        : []),
      ...(discharge.attribution.advice === null ? [] : [inLanguage(discharge.attribution.advice, words)]),
      ...(discharge.rate.remarks === undefined
        ? discharge.rate.notes.map((note) => inLanguage(note, words))
        : discharge.rate.remarks.map((remark) => reasonInWords(remark, words, numbers))),
    ],
  };
  return { page, assets };
}

/** Strength, passes and change have their own rows on the page: the reasoning there is what is to be expected. */
const expectationReasons = (reasons: readonly Reason[] | undefined): readonly Reason[] | undefined =>
  reasons?.filter(({ key }) => !['strength', 'passes one', 'passes many', 'change'].includes(key));

/** The crop, sized and shifted so that the drawing's window of it fills the drawing. */
function closeUpOf(record: EvidenceRecord, { window, mmPerPx }: EvidenceDrawing, picture: PlacedImage) {
  return {
    picture: { ...picture, widthMm: record.cropWidthPx * mmPerPx, heightMm: record.cropHeightPx * mmPerPx },
    shiftLeftMm: (record.cropLeftPx - 0.5 - window.leftPx) * mmPerPx,
    shiftTopMm: (record.cropTopPx - 0.5 - window.topPx) * mmPerPx,
  };
}

function overlayCaption(record: EvidenceRecord, drawn: EvidenceDrawing, words: Words, numbers: NumberText): string {
  const shares = drawn.shares.map((share) => numbers.fixed(100 * share, 0));
  const values = {
    shares: shares.length === 0 ? '–' : `${shares.join(', ')}\u00a0%`,
    peak: numbers.significant(drawn.peakDensity, 2),
    kernel: numbers.significant(drawn.kernelPx, 2),
    events: numbers.integer(drawn.eventsInPicture),
    seconds: numbers.asGiven(record.accumulatedS, 3),
    dots: drawn.everyDot ? words.dotsAll : words.dotsOutside,
    range: numbers.fixed(record.rangeM, 1),
    sigma: numbers.significant(record.overlaySigmaPx, 2),
    sigmaM:
      drawn.metresPerPx === null
        ? ''
        : `${numbers.significant(100 * record.overlaySigmaPx * drawn.metresPerPx, 2)}\u00a0cm`,
  };
  return fill(drawn.metresPerPx === null ? words.overlayCaptionNoScale : words.overlayCaption, values);
}

function whereRows(
  contents: ReportContents,
  discharge: NumberedFinding['discharge'],
  structureId: string | undefined,
  words: Words,
  numbers: NumberText,
): LabelledText[] {
  const [lonDeg, latDeg, heightM] = discharge.positionLlh;
  const figures = accuracyFigures(discharge.covarianceEnuM2);
  const systematic = accuracyFigures(discharge.systematicCovarianceEnuM2);
  const code = utmCodeAt(lonDeg, latDeg);
  const [eastingM, northingM] = projectedFromLlh(code, lonDeg, latDeg);
  const structure = contents.line.structures.find(({ id }) => id === structureId);
  const rows: LabelledText[] = [
    { label: words.latLon, text: `${numbers.fixed(latDeg, 7)}°, ${numbers.fixed(lonDeg, 7)}°` },
    { label: words.height, text: fill(words.heightValue, { m: numbers.fixed(heightM, 2) }) },
    { label: words.datum, text: words.datumValue },
    {
      label: words.projected,
      text: fill(words.projectedValue, {
        e: numbers.fixed(eastingM, 2),
        n: numbers.fixed(northingM, 2),
        code,
        system: projectedSystem(code).name,
      }),
    },
  ];
  if (structure !== undefined)
    rows.push({
      label: fill(words.aboveFoot, { structure: structure.id }),
      text: `${numbers.fixed(discharge.positionEnuM[2] - structure.footEnuM[2], 1)}\u00a0m`,
    });
  rows.push(
    {
      label: words.accuracy,
      text: fill(words.accuracyShort, {
        h: numbers.significant(figures.horizontalM, 2),
        v: numbers.significant(figures.verticalM, 2),
      }),
    },
    {
      label: words.accuracyEllipsoid,
      text: figures.ellipsoid
        .map((axis) =>
          fill(words.halfAxis, {
            m: numbers.significant(axis.lengthM, 2),
            azimuth: numbers.fixed(axis.azimuthDeg, 0),
            elevation: numbers.fixed(axis.elevationDeg, 0),
          }),
        )
        .join('\n'),
    },
    {
      label: words.systematicShare,
      text: fill(words.systematicShareValue, { m: numbers.significant(systematic.horizontalM, 2) }),
    },
    {
      label: words.rays,
      text: fill(words.raysValue, {
        rays: numbers.integer(discharge.rays),
        passes: fillPlural(words.language, words.passes, discharge.passes, { n: discharge.passes }),
        crossing: numbers.significant(discharge.crossingDeg, 2),
      }),
    },
    { label: words.fit, text: fill(words.fitValue, { rms: numbers.fixed(discharge.normalisedRms, 2) }) },
  );
  return rows;
}

function strengthRows(
  { rate, nearestRangeM }: NumberedFinding['discharge'],
  words: Words,
  numbers: NumberText,
): LabelledText[] {
  return [
    { label: words.rate, text: numbers.rate(rate) },
    {
      label: words.rateCounting,
      text: numbers.intervalLike(rate, rate.countingInterval.lower, rate.countingInterval.upper),
    },
    {
      label: words.rateBand,
      text: fill(words.rateBandValue, { from: numbers.integer(rate.bandNm[0]), to: numbers.integer(rate.bandNm[1]) }),
    },
    { label: words.rateEvents, text: fill(words.rateEventsValue, { n: numbers.significant(rate.events, 3) }) },
    {
      label: words.rateOverdispersion,
      text: fill(words.rateOverdispersionValue, { x: numbers.fixed(rate.overdispersion, 2) }),
    },
    {
      label: words.rateBudget,
      text: rate.budget
        .map(({ name, relativeSigma }) => `${inLanguage(name, words)} ${numbers.percent(relativeSigma)}`)
        .join('; '),
    },
    { label: words.nearestRange, text: `${numbers.fixed(nearestRangeM, 1)}\u00a0m` },
  ];
}

function conditionsOf(
  contents: ReportContents,
  findingId: string,
  evidence: EvidenceRecord | undefined,
  words: Words,
  numbers: NumberText,
): LabelledText[] {
  const seen = contents.sightings.filter(({ dischargeId }) => dischargeId === findingId);
  const flightNames = [...new Set([...(evidence ? [evidence.flight] : []), ...seen.map(({ flight }) => flight)])];
  const rows: LabelledText[] =
    seen.length === 0
      ? []
      : [
          {
            label: words.seen,
            text: seen.map(({ fromUtc, toUtc }) => utcSpan(fromUtc, toUtc)).join('\n'),
          },
        ];
  for (const name of flightNames) {
    const flight = contents.flights.find((each) => each.name === name);
    if (flight === undefined) continue;
    rows.push({
      label: words.flightName,
      text: `${flight.name}: ${conditionText(flight.conditions, words, numbers)}`,
    });
  }
  return rows;
}

function candidateRows(
  contents: ReportContents,
  { attribution }: NumberedFinding['discharge'],
  words: Words,
  numbers: NumberText,
): [string, string, string][] {
  const rows = attribution.candidates.slice(0, 5).map((candidate): [string, string, string] => {
    const component = contents.line.components.find(({ id }) => id === candidate.componentId) ?? null;
    if (candidate.componentId === null) return [words.candidateNone, numbers.percent(candidate.probability), '–'];
    const where =
      candidate.disc === null
        ? fill(words.alongValue, { pct: numbers.fixed(100 * candidate.along, 0) })
        : fill(words.discValue, { n: candidate.disc });
    const name =
      component === null
        ? candidate.componentId
        : `${componentLabel(component, words)}, ${placeLabel(component, words)} (${component.id})`;
    return [
      `${name}; ${where}`,
      numbers.percent(candidate.probability),
      `${numbers.fixed(candidate.distanceM, 2)}\u00a0m`,
    ];
  });
  const rest =
    attribution.restProbability +
    attribution.candidates.slice(5).reduce((sum, { probability }) => sum + probability, 0);
  if (rest > 0) rows.push([words.candidateRest, numbers.percent(rest), '–']);
  return rows;
}

function reviewRows(
  contents: ReportContents,
  findingId: string,
  decision: 'open' | 'confirmed' | 'rejected',
  comment: string,
  words: Words,
): string[] {
  const entries = contents.reviewLog.filter((entry) => entry.findingId === findingId);
  if (entries.length === 0)
    return [comment === '' ? words.decisions[decision] : `${words.decisions[decision]}: ${comment}`];
  return entries.map((entry) =>
    fill(words.reviewEntry, {
      utc: utcText(entry.atUtc),
      what: words.reviewWhat[entry.what],
      who: entry.who,
      value: entry.value === '' ? '' : ` – ${entry.value}`,
    }),
  );
}
