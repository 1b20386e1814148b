import type { CampaignStore } from '../../campaign/CampaignStore.ts';
import { openGeoPackageCampaign } from '../../campaign/openGeoPackageCampaign.ts';
import type { ChangeRecord, EarlierFinding, EvidenceRecord } from '../../campaign/records.ts';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { CHANGE_PARAMETERS } from '../../grade/change/changeParameters.ts';
import { type ToldChange, tellChanges } from '../../grade/change/tellChanges.ts';
import type { Grade } from '../../grade/Grade.ts';
import { gradeAfterChange } from '../../grade/gradeFinding.ts';
import { DEFAULT_RULES, type RuleTable, ruleTable } from '../../grade/RuleTable.ts';
import { InputError } from '../../input/InputError.ts';
import { parseWith } from '../../input/parseWith.ts';
import { readJsonFile } from '../../recording/jsonFile.ts';
import { SOFTWARE } from '../software.ts';
import { comparedCampaign, flightOf } from './comparedCampaign.ts';

export interface CompareOptions {
  /** null: the rules that the later campaign was inspected with. */
  readonly rulesFile: string | null;
}

export interface CompareOutcome {
  readonly earlier: string;
  readonly later: string;
  readonly remarks: readonly string[];
  readonly changes: readonly (ChangeRecord & {
    /** Grade of the later finding before and after the change was known; null where there is none. */
    readonly priorityBefore: Grade['priority'] | null;
    readonly priority: Grade['priority'] | null;
    readonly rule: string | null;
  })[];
}

/**
 * Tells what became of each finding since an earlier campaign of the same line, grades this campaign's findings anew with it, and
 * keeps both in the later campaign, in one transaction. The earlier campaign is only read.
 * @throws InputError where either is no inspected campaign, where they are of different lines, or the earlier is not earlier
 */
export async function compareCampaigns(
  earlierFile: string,
  laterFile: string,
  options: CompareOptions,
): Promise<CompareOutcome> {
  const given = options.rulesFile === null ? null : await readJsonFile(options.rulesFile);
  const givenRules = given === null ? null : parseWith(ruleTable, given.value, options.rulesFile ?? '');
  const earlier = openInspected(earlierFile);
  try {
    const later = openInspected(laterFile);
    try {
      return compare(earlier, later, { earlierFile, laterFile, givenRules });
    } finally {
      later.close();
    }
  } finally {
    earlier.close();
  }
}

function compare(
  earlier: CampaignStore,
  later: CampaignStore,
  files: { earlierFile: string; laterFile: string; givenRules: RuleTable | null },
): CompareOutcome {
  const [then, now] = [earlier.about()!, later.about()!];
  const [thenFrom, thenTo] = spanOf(earlier);
  const [nowFrom] = spanOf(later);
  if (thenFrom >= nowFrom)
    throw new InputError({
      file: files.earlierFile,
      found: `a campaign flown from ${thenFrom}, against ${nowFrom} of ${files.laterFile}`,
      expected: 'the earlier campaign first',
      todo: 'Swap the two files.',
    });
  const [lineThen, lineNow] = [earlier.line(), later.line()];
  if (lineThen.name !== lineNow.name)
    throw new InputError({
      file: files.earlierFile,
      field: 'line',
      found: `'${lineThen.name}'`,
      expected: `'${lineNow.name}', the line of ${files.laterFile}`,
      todo: 'Compare campaigns of one line.',
    });
  const remarks: string[] = [];
  if (then.lineHash !== now.lineHash) {
    const known = new Set(lineThen.components.map(({ id }) => id));
    const lost = lineNow.components.filter(({ id }) => !known.has(id)).length;
    remarks.push(
      `The two campaigns have different line models; ${lost} components of this one are not in the earlier one by name, and findings there are matched by place alone.`,
    );
  }
  const frame = localFrameAt(now.originLlh);
  const told = tellChanges(comparedCampaign(earlier, frame), comparedCampaign(later, frame), CHANGE_PARAMETERS);
  const rejected = earlier.findings().filter(({ decision }) => decision === 'rejected').length;
  if (rejected > 0)
    remarks.push(
      `${rejected} ${rejected === 1 ? 'finding' : 'findings'} of the earlier campaign had been rejected in review and count as not there.`,
    );

  const rules = rulesFor(later, files.givenRules);
  const before = new Map(later.findings().map((finding) => [finding.id, finding]));
  const grades = new Map<string, Grade>();
  const pictures = new Map<string, EvidenceRecord>();
  const record = recorder(earlier, later);
  const changes = told.map((one): ChangeRecord => {
    if (one.laterId !== null) {
      const finding = before.get(one.laterId)!;
      grades.set(one.laterId, regraded(later, finding.id, finding.grade, one, rules));
    }
    const picture = one.earlierId === null ? undefined : nearest(earlier.evidenceOf(one.earlierId));
    if (picture !== undefined) pictures.set(one.laterId ?? one.earlierId ?? '', picture);
    return record(one);
  });
  later.saveComparison({
    comparison: {
      earlierCampaign: then.name,
      earlierFromUtc: thenFrom,
      earlierToUtc: thenTo,
      earlierResultHash: earlier.resultHash(),
      resultHash: later.resultHash(),
      software: SOFTWARE,
      parameters: CHANGE_PARAMETERS,
      rules: rules.name,
      remarks,
    },
    changes,
    grades,
    pictures,
  });
  return {
    earlier: then.name,
    later: now.name,
    remarks,
    changes: changes.map((change) => {
      const id = change.laterId;
      const grade = id === null ? undefined : grades.get(id);
      return {
        ...change,
        priorityBefore: id === null ? null : before.get(id)!.grade.priority,
        priority: grade?.priority ?? null,
        rule: grade?.rule ?? null,
      };
    }),
  };
}

function openInspected(file: string): CampaignStore {
  const store = openGeoPackageCampaign(file, { create: false });
  if (store.about() !== null && store.flights().length > 0) return store;
  store.close();
  throw new InputError({
    file,
    found: 'a campaign that holds no inspection yet',
    expected: 'at least one inspected flight',
    todo: 'Run `corposant inspect` on a flight with this campaign first.',
  });
}

/** First start and last end of a campaign's flights. */
function spanOf(store: CampaignStore): [fromUtc: string, toUtc: string] {
  const flights = store.flights();
  return [
    flights.map(({ startUtc }) => startUtc).sort()[0],
    flights
      .map(({ endUtc }) => endUtc)
      .sort()
      .at(-1)!,
  ];
}

/** The rules that the findings were graded by, so that the change alone is new; campaigns of early releases did not keep them. */
function rulesFor(later: CampaignStore, given: RuleTable | null): RuleTable {
  if (given !== null) return given;
  const kept = later.flights().flatMap(({ name }) => later.settingsOf(name)?.rules ?? []);
  return kept[0] ?? DEFAULT_RULES;
}

function regraded(later: CampaignStore, id: string, grade: Grade, { change }: ToldChange, rules: RuleTable): Grade {
  const discharge = later.discharges().find((one) => one.id === id)!;
  const finding = later.findings().find((one) => one.id === id)!;
  const component = later.line().components.find((one) => one.id === finding.componentId);
  return gradeAfterChange(
    grade,
    {
      componentKind: component?.kind ?? null,
      componentProbability: finding.componentProbability,
      rate: discharge.rate,
      passes: discharge.passes,
      change,
    },
    rules,
  );
}

/** Makes a told change into what the campaign keeps: with its place and the history of the finding. */
function recorder(earlier: CampaignStore, later: CampaignStore): (told: ToldChange) => ChangeRecord {
  const campaign = earlier.about()!.name;
  const flights = new Map(earlier.flights().map((flight) => [flight.name, flight]));
  const sightings = earlier.sightings();
  const findings = new Map(earlier.findings().map((finding) => [finding.id, finding]));
  const dischargesThen = new Map(earlier.discharges().map((discharge) => [discharge.id, discharge]));
  const dischargesNow = new Map(later.discharges().map((discharge) => [discharge.id, discharge]));
  const componentNow = new Map(later.findings().map(({ id, componentId }) => [id, componentId]));
  const before = new Map(
    earlier.changes().flatMap((change) => (change.laterId === null ? [] : [[change.laterId, change.history] as const])),
  );
  const historyOf = (id: string): EarlierFinding[] => {
    const finding = findings.get(id)!;
    const discharge = dischargesThen.get(id)!;
    const flight = flightOf(id, sightings, flights);
    const seen = sightings.filter(({ dischargeId }) => dischargeId === id).map(({ fromUtc }) => fromUtc);
    return [
      {
        id,
        campaign,
        seenUtc: seen.sort()[0] ?? flight?.startUtc ?? '',
        rate: discharge.rate,
        priority: finding.grade.priority,
        decision: finding.decision,
        comment: finding.comment,
        componentId: finding.componentId,
        positionLlh: discharge.positionLlh,
        nearestRangeM: discharge.nearestRangeM,
        passes: discharge.passes,
        conditions: (flight ?? [...flights.values()][0]).conditions,
      },
      ...(before.get(id) ?? []),
    ];
  };
  return (told) => ({
    ...told,
    componentId:
      told.laterId !== null
        ? (componentNow.get(told.laterId) ?? null)
        : (findings.get(told.earlierId!)?.componentId ?? null),
    positionLlh: (told.laterId !== null ? dischargesNow.get(told.laterId) : dischargesThen.get(told.earlierId!))!
      .positionLlh,
    history: told.earlierId === null ? [] : historyOf(told.earlierId),
  });
}

const nearest = (evidence: readonly EvidenceRecord[]): EvidenceRecord | undefined =>
  [...evidence].sort((a, b) => a.rangeM - b.rangeM)[0];
