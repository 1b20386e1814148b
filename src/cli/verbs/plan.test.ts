import { expect, test } from 'vitest';
import { planned } from '../../jobs/plan/skuaLine.testdata.ts';
import { planText } from './plan.ts';

test('a plan fits a terminal of 80 columns, warnings, passes and approach distances included', async () => {
  const { outcome } = await planned({ speedsMps: [12, 20], standoffsM: [40, 4.5], acknowledgeApproach: true });
  const lines = planText(outcome).split('\n');
  // Names of files are as long as they are.
  expect(lines.filter((line) => line.length > 80 && !line.includes('passes.'))).toEqual([]);
  expect(lines.some((line) => line.includes('DIN VDE 0105-100'))).toBe(true);
});

test('a refusal names the distance and says whom to ask', async () => {
  const { outcome } = await planned({ standoffsM: [4.5] });
  const text = planText(outcome).replaceAll('\n', ' ');
  expect(text).toMatch(/^No plan: a standoff of 4\.5 m is nearer than 5\.00 m/);
  expect(text).toMatch(/for qualified workers.*local law, the rules of the line's owner and the competent person/);
});
