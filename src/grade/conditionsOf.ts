import type { ComponentKind } from '../line/LineModel.ts';
import type { Expectedness } from './Grade.ts';
import type { PhotonRate } from './PhotonRate.ts';
import type { Change, Rule } from './RuleTable.ts';

/** What a rule looks at. */
export interface RuleSubject {
  /** null: on none of the components known. */
  readonly componentKind: ComponentKind | null;
  readonly componentProbability: number;
  readonly rate: Pick<PhotonRate, 'interval'>;
  readonly expectedness: Expectedness;
  /** Passes that saw it. */
  readonly passes: number;
  readonly change: Change;
}

/** One condition of a rule, what it asks for, what the finding has, and whether that meets it. */
export interface RuleCondition {
  readonly condition: keyof Rule['when'];
  readonly asked: string;
  readonly found: string;
  readonly met: boolean;
}

const figure = (x: number): string => x.toExponential(1).replace('e+', 'e');

/**
 * The conditions of a rule, each with its answer; the rule holds where all are met. A rate is at least so much where the lower
 * end of its 95 % interval is, and below where the upper end is: a rule fires on what is known, not on luck.
 */
export function conditionsOf({ when }: Rule, subject: RuleSubject): RuleCondition[] {
  const kind = subject.componentKind ?? 'none';
  const { lower, upper } = subject.rate.interval;
  const among = <T extends string>(condition: keyof Rule['when'], asked: readonly T[] | undefined, found: T) =>
    asked === undefined ? [] : [{ condition, asked: asked.join(' or '), found, met: asked.includes(found) }];
  const number = (
    condition: keyof Rule['when'],
    limit: number | undefined,
    words: 'at least' | 'below',
    found: number,
    print: (x: number) => string,
  ) =>
    limit === undefined
      ? []
      : [
          {
            condition,
            asked: `${words} ${print(limit)}`,
            found: print(found),
            met: words === 'at least' ? found >= limit : found < limit,
          },
        ];
  return [
    ...among('componentKinds', when.componentKinds, kind),
    ...number('rateAtLeastHz', when.rateAtLeastHz, 'at least', lower, figure),
    ...number('rateBelowHz', when.rateBelowHz, 'below', upper, figure),
    ...among('expectedness', when.expectedness, subject.expectedness),
    ...number('passesAtLeast', when.passesAtLeast, 'at least', subject.passes, String),
    ...among('change', when.change, subject.change),
    ...number('attributionAtLeast', when.attributionAtLeast, 'at least', subject.componentProbability, (x) =>
      x.toFixed(2),
    ),
    ...number('attributionBelow', when.attributionBelow, 'below', subject.componentProbability, (x) => x.toFixed(2)),
  ];
}
