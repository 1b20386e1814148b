import type { LoggedAct } from './ReviewCommand.ts';

/** Acts by number that stand: done, and not taken back, or done again since. */
export function standingActs(log: readonly LoggedAct[]): ReadonlySet<number> {
  const standing = new Set<number>();
  for (const { what, act, value } of log) {
    if (what === 'undo') standing.delete(Number(value));
    else if (what === 'redo') standing.add(Number(value));
    else standing.add(act);
  }
  return standing;
}

/** Findings that a line names. What takes back names those of the act that it takes back. */
export const findingsOfLine = ({ findingId, others }: LoggedAct): string[] => [
  findingId,
  ...others.filter(({ kind }) => kind !== 'sighting').map(({ id }) => id),
];

/** The last line of the log that concerns each finding. */
export function lastLineByFinding(log: readonly LoggedAct[]): ReadonlyMap<string, number> {
  const last = new Map<string, number>();
  const ofAct = new Map<number, string[]>();
  for (const line of log) {
    const named =
      line.what === 'undo' || line.what === 'redo' ? (ofAct.get(Number(line.value)) ?? []) : findingsOfLine(line);
    if (line.what !== 'undo' && line.what !== 'redo') ofAct.set(line.act, [...(ofAct.get(line.act) ?? []), ...named]);
    for (const id of named) last.set(id, line.line);
  }
  return last;
}

/** Findings tied to these by merging and splitting, whether it stands or not. */
export function familyOf(log: readonly LoggedAct[], ids: Iterable<string>): ReadonlySet<string> {
  const family = new Set(ids);
  const ties = log.map(findingsOfLine).filter((named) => named.length > 1);
  for (let before = -1; before !== family.size; ) {
    before = family.size;
    for (const named of ties) if (named.some((id) => family.has(id))) for (const id of named) family.add(id);
  }
  return family;
}

/** What a reviewer could take back, and do again: the newest last. A new act leaves nothing to do again. */
export function ownStacks(
  log: readonly LoggedAct[],
  who: string,
): { readonly toUndo: readonly number[]; readonly toRedo: readonly number[] } {
  let toUndo: number[] = [];
  let toRedo: number[] = [];
  for (const { what, act, value, who: by } of log) {
    const target = Number(value);
    if (what === 'undo') {
      toUndo = toUndo.filter((one) => one !== target);
      if (by === who) toRedo.push(target);
    } else if (what === 'redo') {
      toRedo = toRedo.filter((one) => one !== target);
      if (by === who) toUndo.push(target);
    } else if (by === who && toUndo.at(-1) !== act) {
      toUndo.push(act);
      toRedo = [];
    }
  }
  return { toUndo, toRedo };
}

/**
 * Whether a later act that stands speaks of a finding that only this act made: taking it back would leave that act without
 * its finding.
 */
export function restsOn(log: readonly LoggedAct[], act: number): boolean {
  const standing = standingActs(log);
  const made = new Set(
    log
      .filter((line) => line.act === act)
      .flatMap(({ others }) => others.filter(({ kind }) => kind === 'split off').map(({ id }) => id)),
  );
  return log.some(
    (line) => line.act > act && standing.has(line.act) && findingsOfLine(line).some((id) => made.has(id)),
  );
}
