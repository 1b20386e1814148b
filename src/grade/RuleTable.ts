import { z } from 'zod';
import { COMPONENT_KINDS } from '../line/LineModel.ts';
import { PRIORITIES } from './Grade.ts';

/** What change since the last campaign came to; 'first campaign' where there is none to compare with. */
const CHANGES = ['first campaign', 'new', 'grown', 'unchanged', 'faded', 'gone', 'not comparable'] as const;
export type Change = (typeof CHANGES)[number];

const condition = z.strictObject({
  componentKinds: z
    .array(z.enum([...COMPONENT_KINDS, 'none']))
    .min(1)
    .optional(),
  rateAtLeastHz: z.number().nonnegative().optional(),
  rateBelowHz: z.number().positive().optional(),
  expectedness: z
    .array(z.enum(['unexpected', 'borderline', 'expected']))
    .min(1)
    .optional(),
  passesAtLeast: z.int().min(1).optional(),
  change: z.array(z.enum(CHANGES)).min(1).optional(),
  attributionAtLeast: z.number().min(0).max(1).optional(),
  attributionBelow: z.number().gt(0).max(1).optional(),
});

/**
 * `rules.json`: how a discharge becomes a priority. The first rule all of whose conditions hold decides; the last must
 * have none, so that every discharge gets a grade. Rates are compared with the lower end of the 95 % interval for
 * `rateAtLeastHz` and with its upper end for `rateBelowHz`: a rule fires on what is known, not on luck.
 */
export const ruleTable = z.strictObject({
  format: z.literal('corposant-rules'),
  version: z.literal(1),
  name: z.string().min(1),
  rules: z
    .array(
      z.strictObject({
        name: z.string().min(1).max(120),
        when: condition,
        priority: z.enum(PRIORITIES),
        advice: z.string().min(1).max(400),
      }),
    )
    .min(1)
    .refine(
      (rules) => Object.keys(rules[rules.length - 1].when).length === 0,
      'a last rule without conditions, so that every discharge gets a grade',
    )
    .refine((rules) => new Set(rules.map((rule) => rule.name)).size === rules.length, 'rules of different names'),
});
export type RuleTable = z.infer<typeof ruleTable>;
export type Rule = RuleTable['rules'][number];

/**
 * A generic default of our own. The rates are working values without a source, in photons a second into all directions in
 * the solar-blind band: 3e10 is some three times what one pass at 40 m can find at all through a small lens, 2e11 shows in
 * most frames, 1e12 in all. A line owner replaces them with values from own experience.
 */
export const DEFAULT_RULES: RuleTable = {
  format: 'corposant-rules',
  version: 1,
  name: 'generic default',
  rules: [
    {
      name: 'strong and growing on an insulator or what carries load',
      when: {
        componentKinds: ['insulator string', 'clamp', 'joint'],
        rateAtLeastHz: 1e12,
        expectedness: ['unexpected'],
        change: ['grown', 'new'],
        attributionAtLeast: 0.8,
      },
      priority: 'act now',
      advice:
        'Have qualified people look at the component soon, from the ground or by climbing, with other methods beside this one.',
    },
    {
      name: 'strong on an insulator or what carries load',
      when: {
        componentKinds: ['insulator string', 'clamp', 'joint'],
        rateAtLeastHz: 2e11,
        expectedness: ['unexpected'],
        attributionAtLeast: 0.5,
      },
      priority: 'plan soon',
      advice:
        'Have the component checked closely: an insulator for cracks, dirt and its end fittings, a clamp or joint for seat and wear.',
    },
    {
      name: 'strong on a conductor where none is expected',
      when: { componentKinds: ['conductor', 'earth wire'], rateAtLeastHz: 2e11, expectedness: ['unexpected'] },
      priority: 'plan soon',
      advice: 'Look for broken or lifted strands and for foreign bodies at this place of the wire.',
    },
    {
      name: 'grown since the last campaign',
      when: { expectedness: ['unexpected', 'borderline'], change: ['grown'] },
      priority: 'plan soon',
      advice: 'Compare the pictures of both campaigns and have the component checked.',
    },
    {
      name: 'as the weather makes it',
      when: { expectedness: ['expected'] },
      priority: 'as expected in this weather',
      advice: 'Look again in dry weather before concluding anything.',
    },
    {
      name: 'on fittings, in dry weather',
      when: {
        componentKinds: ['insulator string', 'clamp', 'ring', 'joint', 'spacer', 'damper'],
        expectedness: ['unexpected'],
        rateAtLeastHz: 3e10,
      },
      priority: 'next maintenance',
      advice:
        'Check seat and state of the fitting at the next planned work on this structure; a loose or bent ring is refitted or replaced.',
    },
    {
      name: 'seen by several passes',
      when: { passesAtLeast: 2, expectedness: ['unexpected', 'borderline'] },
      priority: 'watch',
      advice: 'Repeat at the next flight, in dry weather.',
    },
    {
      name: 'on nothing of the line model',
      when: { componentKinds: ['none'] },
      priority: 'watch',
      advice: 'Look at the pictures for what is there; correct the line model where it lacks a component.',
    },
    { name: 'everything else', when: {}, priority: 'watch', advice: 'Repeat at the next flight, in dry weather.' },
  ],
};
