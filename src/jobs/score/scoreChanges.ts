import type { ChangeRecord } from '../../campaign/records.ts';
import { distance, type Vec3 } from '../../maths/vec3.ts';
import { MATCH_GATE_M } from './scoreFindings.ts';
import type { Truth } from './Truth.ts';

/** How one true change was told. */
export interface ScoredChange {
  readonly id: string;
  readonly truth: NonNullable<Truth['changes']>[number]['change'];
  readonly factor: number | null;
  /** null: neither campaign has a finding there. */
  readonly told: ChangeRecord | null;
  /**
   * 'left open': told not comparable, for a stated reason, where something changed or did not. Of what was not flown that alone is
   * right.
   */
  readonly verdict: 'right' | 'left open' | 'wrong' | 'never found';
}

export interface ChangeScore {
  readonly changes: readonly ScoredChange[];
  /** Told of a place where the truth has nothing: false alarms of either campaign. */
  readonly withoutTruth: readonly ChangeRecord[];
}

/** Sets the changes that a comparison told against what really became of each discharge, nearest place first. */
export function scoreChanges(
  truth: NonNullable<Truth['changes']>,
  told: readonly ChangeRecord[],
  enuFromLlh: (llh: readonly [number, number, number]) => Vec3,
): ChangeScore {
  const places = told.map(({ positionLlh }) => enuFromLlh(positionLlh));
  const pairs = truth
    .flatMap(({ positionLlh }, t) =>
      places.map((place, k) => ({ t, k, gapM: distance(enuFromLlh(positionLlh), place) })),
    )
    .filter(({ gapM }) => gapM <= MATCH_GATE_M)
    .sort((a, b) => a.gapM - b.gapM);
  const toldOf = new Map<number, number>();
  for (const { t, k } of pairs) if (!toldOf.has(t) && ![...toldOf.values()].includes(k)) toldOf.set(t, k);
  const changes = truth.map(({ id, change, factor }, t): ScoredChange => {
    const one = told[toldOf.get(t) ?? -1] ?? null;
    return { id, truth: change, factor, told: one, verdict: verdictOn(change, one) };
  });
  const used = new Set(toldOf.values());
  return { changes, withoutTruth: told.filter((_, k) => !used.has(k)) };
}

function verdictOn(truth: ScoredChange['truth'], told: ChangeRecord | null): ScoredChange['verdict'] {
  if (told === null) return 'never found';
  if (truth === 'not flown')
    return told.change === 'not comparable' && told.because.key === 'not seen now' ? 'right' : 'wrong';
  if (told.change === 'not comparable') return 'left open';
  return told.change === truth ? 'right' : 'wrong';
}
