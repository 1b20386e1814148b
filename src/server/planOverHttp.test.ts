import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { temporaryFolder } from '../campaign/smallCampaign.testdata.ts';
import { rigJson } from '../recording/smallRecording.testdata.ts';
import { type PlanRequest, planAnswer } from './api/plan.ts';
import type { Problem } from './api/problem.ts';
import { startedDesk } from './smallDesk.testdata.ts';

async function planned(request: PlanRequest, withRig = true): Promise<unknown> {
  const rigFile = join(temporaryFolder(), 'rig.json');
  writeFileSync(rigFile, JSON.stringify(rigJson()));
  const { origin, token } = await startedDesk({ rigFile: withRig ? rigFile : null });
  const answer = await fetch(`${origin}/api/plan`, {
    method: 'POST',
    headers: { authorization: `Bearer ${token}`, 'content-type': 'application/json' },
    body: JSON.stringify(request),
  });
  return answer.json();
}

test('a plan over the API has the figures that focal length, pitch and baseline alone give', async () => {
  const plan = planAnswer.parse(await planned({ standoffsM: [30, 60], withPasses: false, acknowledgeApproach: true }));
  if (plan.kind === 'refused') throw new Error(plan.because);
  // 11 um at 55 mm and 3.45 um at 35 mm; the colour camera sits 0.15, 0.01, -0.02 m from the other.
  plan.rows.forEach(({ standoffM, uvSamplingM, colourSamplingM, parallaxAtStandoffPx }) => {
    expect(uvSamplingM).toBeCloseTo((standoffM * 11e-6) / 0.055, 9);
    expect(colourSamplingM).toBeCloseTo((standoffM * 3.45e-6) / 0.035, 9);
    const textbookPx = (Math.hypot(0.15, 0.01) * 0.035) / 3.45e-6 / standoffM;
    // The baseline's share along the view shifts the middle of the picture by nothing; a percent is room for the aim.
    expect(parallaxAtStandoffPx / textbookPx).toBeGreaterThan(0.99);
    expect(parallaxAtStandoffPx / textbookPx).toBeLessThan(1.01);
  });
  expect(plan.passes).toBeNull();
});

test('a standoff within a published approach distance is refused until somebody answers for it', async () => {
  const plan = planAnswer.parse(await planned({ standoffsM: [2], voltageKv: 220, withPasses: false }));
  expect(plan.kind).toBe('refused');
  expect(plan.approach.length).toBeGreaterThan(0);
  expect(plan.caution).toContain('qualified');
});

test('without a rig the plan says what is missing', async () => {
  const problem = (await planned({}, false)) as Problem;
  expect(problem.status).toBeGreaterThanOrEqual(400);
  expect(problem.todo).toContain('--rig');
});
