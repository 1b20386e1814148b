import { expect, test } from 'vitest';
import { InputError } from '../input/InputError.ts';
import { parseWith } from '../input/parseWith.ts';
import type { GradedFinding } from './gradeFinding.ts';
import { gradeFinding } from './gradeFinding.ts';
import { DEFAULT_RULES, ruleTable } from './RuleTable.ts';

const finding = (more: Partial<GradedFinding>, lowerHz = 2.5e11, upperHz = 4e11): GradedFinding => ({
  componentKind: 'insulator string',
  componentProbability: 0.97,
  rate: {
    rateHz: 3e11,
    countingInterval: { lower: lowerHz, upper: upperHz },
    interval: { lower: lowerHz, upper: upperHz },
    events: 80,
    overdispersion: 1.2,
    bandNm: [240, 280],
    budget: [],
    notes: [],
  },
  expectation: { expectedness: 'unexpected', reasoning: '', reasons: [], gradientOverInception: null },
  passes: 2,
  change: 'first campaign',
  ...more,
});

test('the table shipped is one that its own schema accepts', () => {
  expect(ruleTable.parse(JSON.parse(JSON.stringify(DEFAULT_RULES)))).toEqual(DEFAULT_RULES);
});

test.each<[string, Partial<GradedFinding>, number, string, string]>([
  ['a strong unexpected glow on a string', {}, 3e11, 'plan soon', 'strong on an insulator or what carries load'],
  [
    'the same, new since last year and stronger',
    { change: 'new' },
    2e12,
    'act now',
    'strong and growing on an insulator or what carries load',
  ],
  [
    'the same when it is not sure which component',
    { change: 'new', componentProbability: 0.3 },
    2e12,
    'next maintenance',
    'on fittings, in dry weather',
  ],
  ['a weak glow on a ring seen once', { componentKind: 'ring', passes: 1 }, 1e10, 'watch', 'everything else'],
  ['a glow on a ring', { componentKind: 'ring' }, 6e10, 'next maintenance', 'on fittings, in dry weather'],
  [
    'a strong glow on a string in fog',
    { expectation: { expectedness: 'expected', reasoning: '', reasons: [], gradientOverInception: null } },
    3e11,
    'as expected in this weather',
    'as the weather makes it',
  ],
  [
    'a glow on nothing known, seen once',
    { componentKind: null, passes: 1 },
    5e8,
    'watch',
    'on nothing of the line model',
  ],
])('%s is graded by the first rule that holds', (_, more, lowerHz, priority, rule) => {
  expect(gradeFinding(finding(more, lowerHz, 2 * lowerHz), DEFAULT_RULES)).toMatchObject({ priority, rule });
});

test('a rule on strength fires on the lower end of the interval, not on the best value', () => {
  expect(gradeFinding(finding({}, 1.5e11, 9e11), DEFAULT_RULES).rule).not.toBe(
    'strong on an insulator or what carries load',
  );
});

test('every grade says that the owner and qualified people decide, and no rule speaks of switching', () => {
  for (const rule of DEFAULT_RULES.rules)
    expect(rule.advice).not.toMatch(/switch|de-?energi|isolate|outage|earth the/i);
  const grade = gradeFinding(finding({}), DEFAULT_RULES);
  expect(grade.advice).toContain('qualified people decide');
  expect(grade.reasoning).toContain('3.0e11 photons/s (95 %: 2.5e11 to 4.0e11) in 240 to 280 nm');
});

test('a table without a last rule for everything is refused, and the error says so', () => {
  const cut = { ...DEFAULT_RULES, rules: DEFAULT_RULES.rules.slice(0, -1) };
  expect(() => parseWith(ruleTable, cut, 'rules.json')).toThrow(InputError);
  expect(() => parseWith(ruleTable, cut, 'rules.json')).toThrow(/a last rule without conditions/);
});

test('a misspelt condition is refused rather than ignored', () => {
  const wrong = {
    ...DEFAULT_RULES,
    rules: [{ ...DEFAULT_RULES.rules[0], when: { rateAtleastHz: 1 } }, DEFAULT_RULES.rules.at(-1)],
  };
  expect(() => parseWith(ruleTable, wrong, 'rules.json')).toThrow(/rateAtleastHz/);
});
