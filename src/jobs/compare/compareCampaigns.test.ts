import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import type { InspectionResult } from '../../campaign/CampaignStore.ts';
import { openGeoPackageCampaign } from '../../campaign/openGeoPackageCampaign.ts';
import { ABOUT, resultOf, temporaryFolder } from '../../campaign/smallCampaign.testdata.ts';
import { compareCampaigns } from './compareCampaigns.ts';

const RULES = { rulesFile: null };

/** The small campaign and the same a year on, in which one of its two discharges shines `factor` times as strong and the other is not there. */
function twoYears(factor: number, alter: (result: InspectionResult) => InspectionResult = (result) => result) {
  const folder = temporaryFolder();
  const [earlier, later] = [join(folder, 'one.gpkg'), join(folder, 'two.gpkg')];
  const first = resultOf('west');
  const save = (file: string, name: string, result: InspectionResult) => {
    const store = openGeoPackageCampaign(file, { create: true });
    store.initialise({ ...ABOUT, name });
    store.saveInspection(result);
    store.close();
  };
  save(earlier, 'Spring 2026', first);
  const ids = ['west-2-D1', 'west-2-D2'] as const;
  const next = resultOf('west-2', { ids, endUtc: '2027-05-12T06:41:17.5Z' });
  const [kept] = next.discharges;
  const scaled = (interval: { lower: number; upper: number }) => ({
    lower: interval.lower * factor,
    upper: interval.upper * factor,
  });
  const { rate } = kept;
  save(
    later,
    'Spring 2027',
    alter({
      ...next,
      flight: { ...next.flight, startUtc: '2027-05-12T06:30:00.123456Z' },
      discharges: [
        {
          ...kept,
          rate: {
            ...rate,
            rateHz: rate.rateHz * factor,
            events: rate.events * factor,
            countingInterval: scaled(rate.countingInterval),
            interval: scaled(rate.interval),
          },
        },
      ],
      findings: next.findings.slice(0, 1),
    }),
  );
  return { earlier, later };
}

test('a finding eight times as strong is grown, graded anew by the rule for it, and both stand in the later campaign', async () => {
  const { earlier, later } = twoYears(8);
  const before = readFileSync(earlier);
  const outcome = await compareCampaigns(earlier, later, RULES);
  const grown = outcome.changes.find(({ laterId }) => laterId === 'west-2-D1')!;
  expect(grown).toMatchObject({ earlierId: 'west-D1', change: 'grown', priorityBefore: 'plan soon' });
  expect(grown.rate!.ratio).toBeCloseTo(8, 9);
  expect(grown.rule).toBe('grown since the last campaign');
  expect(readFileSync(earlier).equals(before)).toBe(true);

  const store = openGeoPackageCampaign(later, { create: false });
  expect(store.comparison()).toMatchObject({
    earlierCampaign: 'Spring 2026',
    earlierFromUtc: '2026-05-12T06:30:00.123456Z',
  });
  expect(store.changes().map(({ change }) => change)).toEqual(outcome.changes.map(({ change }) => change));
  expect(store.changes()[0].history[0]).toMatchObject({ id: 'west-D1', campaign: 'Spring 2026' });
  const [finding] = store.findings();
  expect(finding.grade.rule).toBe('grown since the last campaign');
  expect(finding.grade.reasoning).toContain('Change since the last campaign: grown.');
  expect(store.earlierPictureOf('west-2-D1')?.colourJpeg).toEqual(resultOf('west').evidence[0].colourJpeg);
  store.close();
});

test('the discharge that is missing is not gone, since this campaign did not see its component', async () => {
  const { earlier, later } = twoYears(1, (result) => ({
    ...result,
    coverage: [
      ...result.coverage.filter(({ componentId }) => componentId !== 'T2-A-clamp'),
      { componentId: 'T2-A-clamp', state: 'not seen', framesInView: 0, nearestRangeM: null, limitHz: null },
    ],
  }));
  const { changes } = await compareCampaigns(earlier, later, RULES);
  expect(changes.find(({ earlierId }) => earlierId === 'west-D2')).toMatchObject({
    laterId: null,
    change: 'not comparable',
    because: { key: 'not seen now' },
    componentId: 'T2-A-clamp',
  });
  expect(changes.find(({ earlierId }) => earlierId === 'west-D1')?.change).toBe('unchanged');
});

test('comparing again gives the same bytes, and another inspection takes the comparison and its grades back', async () => {
  const { earlier, later } = twoYears(8);
  await compareCampaigns(earlier, later, RULES);
  const store = openGeoPackageCampaign(later, { create: false });
  const told = JSON.stringify([store.comparison(), store.changes(), store.findings()]);
  store.close();
  await compareCampaigns(earlier, later, RULES);
  const again = openGeoPackageCampaign(later, { create: false });
  expect(JSON.stringify([again.comparison(), again.changes(), again.findings()])).toBe(told);
  again.saveInspection(resultOf('east', { endUtc: '2027-05-13T06:41:17.5Z' }));
  expect(again.comparison()).toBeNull();
  expect(again.changes()).toEqual([]);
  expect(again.findings().find(({ id }) => id === 'west-2-D1')?.grade).toEqual(resultOf('west').findings[0].grade);
  again.close();
});

test('the two years in the wrong order are refused, and so is a campaign of nothing', async () => {
  const { earlier, later } = twoYears(1);
  await expect(compareCampaigns(later, earlier, RULES)).rejects.toThrow(/expected the earlier campaign first/);
  const empty = join(temporaryFolder(), 'empty.gpkg');
  openGeoPackageCampaign(empty, { create: true }).close();
  await expect(compareCampaigns(empty, later, RULES)).rejects.toThrow(/holds no inspection yet/);
});
