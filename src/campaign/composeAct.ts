import type { LoggedAct, RefusedReview, ReviewCommand, SeenFinding } from './ReviewCommand.ts';
import type { DischargeRecord, FindingRecord, SightingRecord } from './records.ts';
import { ownStacks, restsOn, standingActs } from './reviewLog.ts';

/** What of a campaign a command is checked against. */
export interface ActSources {
  finding(id: string): FindingRecord | null;
  discharge(id: string): DischargeRecord;
  sightingsOf(id: string): readonly SightingRecord[];
  hasComponent(id: string): boolean;
  readonly log: readonly LoggedAct[];
}

export type NewLine = Omit<LoggedAct, 'act' | 'line'>;
export type ComposedAct =
  | { readonly kind: 'act'; readonly lines: readonly NewLine[] }
  | { readonly kind: 'refused'; readonly because: RefusedReview; readonly detail: string };

const refused = (because: RefusedReview, detail: string): ComposedAct => ({ kind: 'refused', because, detail });

/** Findings that a command names. */
export function seenFindings(command: ReviewCommand): readonly SeenFinding[] {
  if (command.action === 'merge') return [command.into, ...command.findings];
  if (command.action === 'split') return [command.from];
  return command.action === 'undo' || command.action === 'redo' ? [] : command.findings;
}

/** The lines that a command adds to the log, or why it cannot be done. */
export function composeAct(command: ReviewCommand, sources: ActSources): ComposedAct {
  for (const { id } of seenFindings(command)) {
    const finding = sources.finding(id);
    if (finding === null) return refused('no such finding', id);
    if (finding.mergedInto !== undefined) return refused('merged already', `${id} went into ${finding.mergedInto}`);
  }
  const line: MakeLine = (findingId, what, value, others = [], placeEnuM = null) => ({
    findingId,
    atUtc: command.atUtc,
    who: command.by,
    what,
    value,
    why: command.why,
    positionEnuM: placeEnuM ?? sources.discharge(findingId).positionEnuM,
    others,
  });
  switch (command.action) {
    case 'decide': {
      const what = command.decision === 'open' ? 'reopened' : command.decision;
      return { kind: 'act', lines: command.findings.map(({ id }) => line(id, what, command.comment)) };
    }
    case 'comment':
      return { kind: 'act', lines: command.findings.map(({ id }) => line(id, 'comment', command.comment)) };
    case 'assign component': {
      const { componentId } = command;
      if (componentId !== null && !sources.hasComponent(componentId)) return refused('no such component', componentId);
      return { kind: 'act', lines: command.findings.map(({ id }) => line(id, 'component', componentId ?? '')) };
    }
    case 'merge': {
      const { into, findings } = command;
      const ids = findings.map(({ id }) => id);
      if (ids.includes(into.id) || new Set(ids).size < ids.length) return refused('merged with itself', into.id);
      const others = ids.map((id) => ({
        kind: 'merged' as const,
        id,
        positionEnuM: sources.discharge(id).positionEnuM,
      }));
      return { kind: 'act', lines: [line(into.id, 'merge', ids.join(' '), others)] };
    }
    case 'split':
      return composeSplit(command.from.id, command.sightingIds, sources, line);
    case 'undo':
      return composeUndo(command.act, command.by, sources.log, line);
    case 'redo': {
      const act = ownStacks(sources.log, command.by).toRedo.at(-1);
      if (act === undefined) return refused('nothing to take back', `${command.by} has taken nothing back`);
      const first = sources.log.find((one) => one.act === act)!;
      return { kind: 'act', lines: [line(first.findingId, 'redo', String(act), [], first.positionEnuM)] };
    }
  }
}

type MakeLine = (
  findingId: string,
  what: NewLine['what'],
  value: string,
  others?: NewLine['others'],
  /** Where not that of the finding as it is: it may be gone. */
  placeEnuM?: NewLine['positionEnuM'] | null,
) => NewLine;

function composeSplit(
  id: string,
  sightingIds: readonly string[],
  { sightingsOf, log }: ActSources,
  line: MakeLine,
): ComposedAct {
  const own = sightingsOf(id);
  const taken = own.filter((one) => sightingIds.includes(one.id));
  if (taken.length < new Set(sightingIds).size)
    return refused('not its sightings', sightingIds.filter((one) => !own.some((mine) => mine.id === one)).join(', '));
  if (taken.length === own.length)
    return refused('nothing would be left', `all ${own.length} sightings of ${id} are named`);
  const before = log.filter(({ what, findingId }) => what === 'split' && findingId === id).length;
  const offId = `${id}.${before + 2}`;
  return {
    kind: 'act',
    lines: [
      line(id, 'split', offId, [
        { kind: 'split off', id: offId },
        ...taken.map((one) => ({ kind: 'sighting' as const, id: one.id, fromUtc: one.fromUtc })),
      ]),
    ],
  };
}

function composeUndo(given: number | null, who: string, log: readonly LoggedAct[], line: MakeLine): ComposedAct {
  const act = given ?? ownStacks(log, who).toUndo.at(-1);
  if (act === undefined) return refused('nothing to take back', `nothing that ${who} did stands`);
  const first = log.find((one) => one.act === act);
  if (first === undefined || first.what === 'undo' || first.what === 'redo') return refused('no such act', String(act));
  if (!standingActs(log).has(act)) return refused('nothing to take back', `act ${act} was taken back already`);
  if (restsOn(log, act)) return refused('later acts rest on it', `act ${act} made a finding that was reviewed since`);
  return { kind: 'act', lines: [line(first.findingId, 'undo', String(act), [], first.positionEnuM)] };
}
