import type { Reason } from './Reason.ts';

export const PRIORITIES = [
  'act now',
  'plan soon',
  'next maintenance',
  'watch',
  'as expected in this weather',
  'not a finding',
] as const;
export type Priority = (typeof PRIORITIES)[number];

/** Whether sound hardware would glow like this in this weather. */
export type Expectedness = 'unexpected' | 'borderline' | 'expected';

export interface Grade {
  readonly priority: Priority;
  /** Identity of the rule that fired. */
  readonly rule: string;
  /** Advice in generic words; never an order to switch or work. */
  readonly advice: string;
  readonly expectedness: Expectedness;
  /** The reasons in English. */
  readonly reasoning: string;
  /** The same for any language; missing in campaigns of earlier releases. */
  readonly reasons?: readonly Reason[];
}
