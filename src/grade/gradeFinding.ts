import type { ComponentKind } from '../line/LineModel.ts';
import { conditionsOf } from './conditionsOf.ts';
import type { Expectation } from './expectCorona.ts';
import type { Expectedness, Grade } from './Grade.ts';
import type { PhotonRate } from './PhotonRate.ts';
import type { Reason } from './Reason.ts';
import type { Change, RuleTable } from './RuleTable.ts';
import { reasonsInEnglish } from './reasonsInEnglish.ts';

/** What the rules look at. */
export interface GradedFinding {
  /** null: on none of the components known. */
  readonly componentKind: ComponentKind | null;
  readonly componentProbability: number;
  readonly rate: PhotonRate;
  readonly expectation: Expectation;
  /** Passes that saw it. */
  readonly passes: number;
  readonly change: Change;
}

/** Every grade carries this. */
const DEFERENCE = "Advice only: the line owner's rules and qualified people decide.";

/**
 * The first rule of the table that holds gives the priority and the advice.
 * @throws RangeError where no rule holds: `ruleTable` refuses such a table
 */
export function gradeFinding(finding: GradedFinding, table: RuleTable): Grade {
  const { expectedness, reasons } = finding.expectation;
  return gradeWith(finding, expectedness, reasons, table);
}

/**
 * A grade made anew when the change since an earlier campaign is known. What was expected of sound hardware stays as it was
 * reasoned; strength, passes and change are told again.
 */
export function gradeAfterChange(grade: Grade, finding: Omit<GradedFinding, 'expectation'>, table: RuleTable): Grade {
  const told: readonly Reason['key'][] = ['strength', 'passes one', 'passes many', 'change'];
  const kept = (grade.reasons ?? []).filter(({ key }) => !told.includes(key));
  return gradeWith(finding, grade.expectedness, kept, table);
}

function gradeWith(
  finding: Omit<GradedFinding, 'expectation'>,
  expectedness: Expectedness,
  expected: readonly Reason[],
  table: RuleTable,
): Grade {
  const rule = table.rules.find((candidate) =>
    conditionsOf(candidate, { ...finding, expectedness }).every(({ met }) => met),
  );
  if (!rule) throw new RangeError('gradeFinding: the table has no last rule without conditions');
  const reasons: Reason[] = [
    ...expected,
    strength(finding.rate),
    { key: finding.passes === 1 ? 'passes one' : 'passes many', values: { passes: finding.passes } },
    { key: 'change', values: { change: finding.change } },
  ];
  return {
    priority: rule.priority,
    rule: rule.name,
    advice: `${rule.advice} ${DEFERENCE}`,
    expectedness,
    reasoning: reasonsInEnglish(reasons),
    reasons,
  };
}

const strength = ({ rateHz, interval, bandNm }: PhotonRate): Reason => ({
  key: 'strength',
  values: { rate: rateHz, lower: interval.lower, upper: interval.upper, fromNm: bandNm[0], toNm: bandNm[1] },
});
