import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import { AxeBuilder } from '@axe-core/playwright';
import type { Browser, Page } from 'playwright-core';
import sharp from 'sharp';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openGeoPackageCampaign } from '../../src/campaign/openGeoPackageCampaign.ts';
import { corposant, type InventedCampaign, inventedCampaign } from '../inventedCampaign.ts';
import { writeOneTile } from './oneTile.ts';
import { copiedCampaign, goTo, launchBrowser, openPage, type StartedDesk, startDesk } from './openedDesk.ts';

let world: InventedCampaign;
let campaign: ReturnType<typeof copiedCampaign>;
let browser: Browser;
let folder: string;
let flown: string[];

beforeAll(async () => {
  world = await inventedCampaign();
  campaign = copiedCampaign(world.at('campaign.gpkg'));
  folder = mkdtempSync(path.join(tmpdir(), 'corposant-states-'));
  browser = await launchBrowser();
  flown = [
    ...['--flight', world.at('world', 'flight'), '--rig', world.at('world', 'rig.json')],
    ...['--registration', world.at('bench', 'registration.json')],
  ];
}, 900_000);
afterAll(async () => {
  await browser?.close();
  campaign?.remove();
  if (folder) rmSync(folder, { recursive: true, force: true });
});

const faultsOf = async (page: Page): Promise<string[]> => {
  const { violations } = await new AxeBuilder({ page })
    .withTags(['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'])
    .analyze();
  return violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.failureSummary).join(' | ')}`);
};

async function withDesk(file: string, words: readonly string[], use: (desk: StartedDesk) => Promise<void>) {
  const desk = await startDesk(file, words);
  try {
    await use(desk);
  } finally {
    await desk.stop();
  }
}

const placesOf = (page: Page): Promise<string[]> =>
  page
    .getByRole('navigation')
    .getByRole('link')
    .evaluateAll((links) => links.map((a) => (a as HTMLAnchorElement).hash));

test('a campaign that holds nothing yet leaves no place blank, and each place says what to do', async () => {
  const empty = path.join(folder, 'empty.gpkg');
  const store = openGeoPackageCampaign(empty, { create: true });
  store.initialise({
    name: 'Nothing yet',
    originLlh: [0, 50, 100],
    line: { name: 'Bare moor', owner: 'Vessary Island Grid', voltageKv: 110, structures: [], components: [] },
    lineHash: '0'.repeat(64),
  });
  store.close();
  await withDesk(empty, [], async (desk) => {
    const page = await openPage(browser, desk);
    for (const address of await placesOf(page)) {
      await goTo(page, address);
      const said = await page.locator('main').innerText();
      expect(said.trim().length, address).toBeGreaterThan(40);
      expect(await faultsOf(page), address).toEqual([]);
    }
    await page.context().close();
  });
}, 120_000);

test('where a part of the server fails, the place says what failed and tries again when asked', async () => {
  await withDesk(campaign.file, flown, async (desk) => {
    const page = await openPage(browser, desk);
    for (const [address, api] of [
      ['#/line', '**/api/line'],
      ['#/flight', '**/api/flights/**'],
      ['#/bench', '**/api/bench'],
      ['#/jobs', '**/api/jobs'],
    ] as const) {
      await page.route(api, (route) =>
        route.fulfill({
          status: 500,
          contentType: 'application/problem+json',
          body: JSON.stringify({ type: 'about:blank', title: 'Something broke', status: 500 }),
        }),
      );
      await page.reload();
      await goTo(page, address);
      const notice = page.locator('.notice.failed').first();
      await notice.waitFor();
      expect(await notice.innerText(), address).toContain('Something broke');
      expect(await faultsOf(page), address).toEqual([]);
      await page.unroute(api);
      await notice.getByRole('button', { name: 'Try again' }).click();
      await notice.waitFor({ state: 'detached' });
    }
    await page.context().close();
  });
}, 180_000);

test('without WebGL2 the processor draws the same overlay, and the desk says so', async () => {
  const bare = await launchBrowser('none');
  try {
    await withDesk(campaign.file, flown, async (desk) => {
      const page = await openPage(bare, desk);
      expect(await page.evaluate(() => document.createElement('canvas').getContext('webgl2'))).toBeNull();
      await goTo(page, '#/evidence');
      await page.getByText(/no WebGL2/).waitFor();
      // Violet ink on the stage: the lines are there, not the picture alone.
      const violet = () =>
        page
          .locator('.stage canvas')
          .first()
          .evaluate((element) => {
            const canvas = element as HTMLCanvasElement;
            const { data } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height);
            let count = 0;
            for (let i = 0; i < data.length; i += 4)
              if (data[i + 2]! > data[i + 1]! + 80 && data[i]! > data[i + 1]! + 20) count++;
            return count;
          });
      await expect.poll(violet, { timeout: 20_000 }).toBeGreaterThan(30);
      await page.context().close();
    });
  } finally {
    await bare.close();
  }
}, 120_000);

test('a local tile file lies under the plan, and comes from this server alone', async () => {
  const tiles = path.join(folder, 'ground.pmtiles');
  await writeOneTile(tiles, { r: 40, g: 90, b: 220 });
  await withDesk(campaign.file, [...flown, '--tiles', tiles], async (desk) => {
    const page = await openPage(browser, desk);
    const strangers: string[] = [];
    page.on('request', (request) => {
      if (!/^(blob|data):/.test(request.url()) && new URL(request.url()).origin !== desk.origin)
        strangers.push(request.url());
    });
    await goTo(page, '#/line');
    await page.locator('.base-map canvas').waitFor();
    const corner = async () => {
      const box = (await page.locator('.plan').boundingBox())!;
      const clip = { x: box.x + 6, y: box.y + box.height - 40, width: 4, height: 4 };
      const { data } = await sharp(await page.screenshot({ clip }))
        .raw()
        .toBuffer({ resolveWithObject: true });
      return data[2]! - data[0]!;
    };
    // However pale the ground is shown, it has become blue.
    await expect.poll(corner, { timeout: 20_000 }).toBeGreaterThan(20);
    expect(strangers).toEqual([]);
    await page.context().close();
  });
}, 120_000);

test('the page that is handed over needs no server, and axe finds no fault in it, in either language', async () => {
  const out = path.join(folder, 'hand-over');
  await corposant('export', campaign.file, '--evidence', out);
  const context = await browser.newContext({ viewport: { width: 1280, height: 720 } });
  const page = await context.newPage();
  const faults: string[] = [];
  page.on('pageerror', (error) => faults.push(error.message));
  await page.goto(pathToFileURL(path.join(out, 'index.html')).href);
  await page.waitForFunction(() => document.body.innerText.includes('F1'));
  expect(await faultsOf(page)).toEqual([]);
  await page.getByRole('group', { name: 'Language' }).getByRole('button', { name: 'Deutsch' }).click();
  await page.waitForFunction(() => document.body.innerText.includes('Befunde'));
  expect(await faultsOf(page)).toEqual([]);
  expect(faults).toEqual([]);
  await context.close();
}, 120_000);
