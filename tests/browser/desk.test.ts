import { readFileSync } from 'node:fs';
import { AxeBuilder } from '@axe-core/playwright';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { colourPxFromUv } from '../../src/rig/colourFromUv.ts';
import { parseRegistration } from '../../src/rig/registrationFile.ts';
import type { FindingsAnswer } from '../../src/server/api/findings.ts';
import type { ReviewLogAnswer } from '../../src/server/api/review.ts';
import { type InventedCampaign, inventedCampaign } from '../inventedCampaign.ts';
import { copiedCampaign, goTo, launchBrowser, openPage, type StartedDesk, settled, startDesk } from './openedDesk.ts';

let world: InventedCampaign;
let campaign: ReturnType<typeof copiedCampaign>;
let desk: StartedDesk;
let browser: Browser;
let rows: FindingsAnswer['findings'];

const askDesk = async <T>(path: string): Promise<T> => (await fetch(`${desk.origin}${path}`)).json() as Promise<T>;

beforeAll(async () => {
  world = await inventedCampaign();
  campaign = copiedCampaign(world.at('campaign.gpkg'));
  [browser, desk] = await Promise.all([
    launchBrowser(),
    startDesk(campaign.file, [
      ...['--flight', world.at('world', 'flight'), '--bench', world.at('world', 'bench')],
      ...['--rig', world.at('world', 'rig.json'), '--line', world.at('world', 'line.json')],
      ...['--registration', world.at('bench', 'registration.json')],
    ]),
  ]);
  rows = (await askDesk<FindingsAnswer>('/api/findings')).findings;
}, 900_000);
afterAll(async () => {
  await browser?.close();
  await desk?.stop();
  campaign?.remove();
});

/** Every place that the navigation names, with the views of the evidence. */
async function addressesOf(page: Page): Promise<string[]> {
  const places = await page
    .getByRole('navigation')
    .getByRole('link')
    .evaluateAll((links) => links.map((a) => (a as HTMLAnchorElement).hash));
  expect(places.length).toBeGreaterThanOrEqual(3);
  const id = encodeURIComponent(rows[0]!.id);
  return [...places, `#/evidence/${id}?view=beside`, `#/evidence/${id}?view=space`, '#/no-such-place'];
}

// Two walks through all places see both sheets, both languages and both screens.
describe.each([
  { theme: 'day', language: 'en', size: { width: 1280, height: 720 } },
  { theme: 'night', language: 'de', size: { width: 820, height: 1180 } }, // a tablet held upright
] as const)('every place, on the $theme sheet, in "$language", at $size.width x $size.height', (look) => {
  const seen = {
    places: 0,
    accessibility: [] as string[],
    wide: [] as string[],
    strangers: [] as string[],
    faults: [] as string[],
    texts: [] as string[],
    spoken: '' as string | null,
  };

  beforeAll(async () => {
    const page = await openPage(browser, desk, look);
    page.on('request', (request) => {
      if (!/^(blob|data):/.test(request.url()) && new URL(request.url()).origin !== desk.origin)
        seen.strangers.push(request.url());
    });
    page.on('pageerror', (error) => seen.faults.push(error.message));
    page.on('console', (message) => {
      if (message.type() === 'error') seen.faults.push(message.text());
    });
    seen.spoken = await page.locator('html').getAttribute('lang');
    for (const address of await addressesOf(page)) {
      await goTo(page, address);
      seen.places++;
      const { violations } = await new AxeBuilder({ page })
        .withTags(['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'])
        .analyze();
      for (const v of violations)
        seen.accessibility.push(
          `${address} ${v.id}: ${v.nodes.map((n) => `${n.target} ${n.failureSummary}`).join(' | ')}`,
        );
      const [window_, main] = await page.evaluate(() => {
        const floor = document.querySelector('main')!;
        return [document.documentElement.scrollWidth - innerWidth, floor.scrollWidth - floor.clientWidth] as const;
      });
      if (window_ > 0 || main > 0) seen.wide.push(`${address}: ${window_} px, ${main} px`);
      seen.texts.push(await page.locator('body').innerText());
    }
    await page.context().close();
  }, 240_000);

  test('has no fault that axe finds by WCAG 2.2, A and AA', () => {
    expect(seen.places).toBeGreaterThanOrEqual(6);
    expect(seen.accessibility).toEqual([]);
  });

  test('fits the screen without scrolling sideways', () => {
    expect(seen.wide).toEqual([]);
  });

  test('asks nobody but its own server, and no script of the page fails', () => {
    expect(seen.strangers).toEqual([]);
    expect(seen.faults).toEqual([]);
  });

  test('speaks its language, with no key, no hole and no missing figure in the text', () => {
    expect(seen.spoken).toBe(look.language);
    for (const text of seen.texts) {
      expect(text).not.toMatch(/\b(shell|line|evidence|findings|flight|bench|plan|jobs)\.[a-z]\w+/);
      expect(text).not.toMatch(/\{\{|\bundefined\b|\bNaN\b|\[object/);
      expect(text).toContain(look.language === 'de' ? 'Befunde' : 'Findings');
    }
  });
});

describe('the line', () => {
  test('names a component with what clear is worth, found by its name and the keyboard alone', async () => {
    const page = await openPage(browser, desk);
    const line = await askDesk<import('../../src/server/api/line.ts').LineAnswer>('/api/line');
    const clear = line.components.find((c) => c.kind === 'insulator string' && c.coverage.state === 'clear')!;
    await page.getByRole('searchbox', { name: 'Find on the line' }).focus();
    await page.keyboard.type(clear.id);
    await page.keyboard.press('Tab');
    await page.keyboard.press('Enter');
    const chosen = page.locator('.chosen');
    await chosen.getByRole('heading', { name: clear.id }).waitFor();
    const text = await chosen.innerText();
    expect(text).toContain('clear');
    expect(text).toMatch(/Found with 95 % from\s+[\d.]+\s×\s10[⁰¹²³⁴-⁹]+\s*photons\/s/);
    expect(new URL(page.url()).hash).toBe(`#/line/component%3A${encodeURIComponent(clear.id)}`);
    await page.context().close();
  }, 60_000);

  test('goes by keys from the whole line down to one string and back to the same sheet', async () => {
    const page = await openPage(browser, desk);
    const sheet = page.getByRole('application', { name: /Plan of the line/ });
    await sheet.focus();
    const pixels = () => sheet.evaluate((canvas) => (canvas as HTMLCanvasElement).toDataURL());
    // Tracks and letters come after the line: the sheet is whole when it has stayed the same for a second.
    const atRest = async () => {
      await page.evaluate(() => document.fonts.ready);
      let [last, same] = [await pixels(), 0];
      while (same < 4) {
        await page.waitForTimeout(250);
        const now = await pixels();
        same = now === last ? same + 1 : 0;
        last = now;
      }
      return last;
    };
    const before = await atRest();
    for (let i = 0; i < 20; i++) await page.keyboard.press('+');
    expect(await atRest()).not.toBe(before);
    await page.keyboard.press('0');
    expect(await atRest()).toBe(before);
    await page.context().close();
  }, 60_000);
});

describe('the evidence', () => {
  test('what the GPU draws lies where the registration says, to 0.05 px, at the true range, near and at infinity', async () => {
    const page = await openPage(browser, desk);
    await goTo(page, `#/evidence/${encodeURIComponent(rows[0]!.id)}`);
    const { registration } = parseRegistration(readFileSync(world.at('bench', 'registration.json'), 'utf8'), 'r');
    const slider = page.getByRole('slider', { name: 'Range of the overlay' });
    const drawnAt: number[][] = [];
    for (const range of ['true', 'near', 'infinite'] as const) {
      if (range === 'near') await slider.fill(String(1 / 12));
      if (range === 'infinite') await slider.fill('0');
      await page.getByRole('button', { name: 'Read it back from the GPU' }).click();
      const result = page.locator('.check-result');
      await result.waitFor();
      const check = JSON.parse((await result.getAttribute('data-places'))!) as {
        places: { uvPx: [number, number]; drawnPx: [number, number] }[];
        inverseRangePerM: number;
      };
      expect(check.places.length).toBe(63);
      if (range === 'near') expect(1 / check.inverseRangePerM).toBeCloseTo(12, 0);
      if (range === 'infinite') expect(check.inverseRangePerM).toBe(0);
      for (const { uvPx, drawnPx } of check.places) {
        // The registration is read here from its file and worked out by Node, not by the page.
        const expected = colourPxFromUv(registration.model, uvPx[0], uvPx[1], check.inverseRangePerM)!;
        expect(Math.hypot(drawnPx[0] - expected[0], drawnPx[1] - expected[1])).toBeLessThan(0.05);
      }
      drawnAt.push(check.places.map((p) => p.drawnPx[0]));
    }
    // Parallax is there to be got wrong: between 12 m and infinity the overlay moves by many pixels.
    expect(Math.abs(drawnAt[1]![31]! - drawnAt[2]![31]!)).toBeGreaterThan(5);
    await page.context().close();
  }, 60_000);

  test('scrubbing shows the colour picture of the moment, and the overlay is counted at its own place', async () => {
    const page = await openPage(browser, desk);
    await goTo(page, `#/evidence/${encodeURIComponent(rows[0]!.id)}`);
    const slider = page.getByRole('slider', { name: 'Moment' });
    const said = async () => (await slider.getAttribute('aria-valuetext'))!;
    const frameOf = (text: string) => Number(/picture (\d+)/.exec(text)![1]);
    const first = frameOf(await said());
    await page.getByRole('application', { name: /Colour picture/ }).focus();
    await page.keyboard.press('.');
    await page.waitForFunction(
      (before) =>
        Number(/picture (\d+)/.exec(document.querySelector('.rail input')!.getAttribute('aria-valuetext')!)![1]) ===
        before + 1,
      first,
    );
    await page.getByRole('button', { name: 'Play' }).click();
    const at = await slider.inputValue();
    await page.waitForFunction(
      (before) => (document.querySelector('.rail input') as HTMLInputElement).value !== before,
      at,
    );
    await page.getByRole('button', { name: 'Pause' }).click();
    await page.context().close();
  }, 60_000);

  test('a range that is not the true one moves the overlay by the parallax that the registration predicts', async () => {
    const page = await openPage(browser, desk);
    await goTo(page, `#/evidence/${encodeURIComponent(rows[0]!.id)}`);
    expect(await page.locator('.evidence-panel').innerText()).toContain('stands at the true range');
    await page.getByRole('slider', { name: 'Range of the overlay' }).fill('0');
    const text = await page.locator('.evidence-panel').innerText();
    const shiftPx = Number(/moved by ([\d.]+) px/.exec(text)![1]);
    const rangeM = Number(/At the discharge ([\d.]+)/.exec(text)![1]);
    const { registration } = parseRegistration(readFileSync(world.at('bench', 'registration.json'), 'utf8'), 'r');
    const { colour, colourFromUv } = registration.model;
    // Baseline over range, in pixels: what a textbook says of two cameras side by side, to a few per cent off the axis.
    const textbookPx = (colour.fxPx * Math.hypot(...colourFromUv.translation.slice(0, 2))) / rangeM;
    expect(shiftPx / textbookPx).toBeGreaterThan(0.9);
    expect(shiftPx / textbookPx).toBeLessThan(1.1);
    await page.context().close();
  }, 60_000);

  test('a length measured on the picture is the one that the range and the lens make of it', async () => {
    const page = await openPage(browser, desk);
    await goTo(page, `#/evidence/${encodeURIComponent(rows[0]!.id)}`);
    await page.getByRole('button', { name: 'Measure on the picture' }).click();
    const stage = page.getByRole('application', { name: /Colour picture/ });
    const box = (await stage.boundingBox())!;
    const barPx = await page
      .locator('.bar-line')
      .evaluate((bar) => Number(/h([\d.]+)v/.exec(bar.getAttribute('d')!)![1]));
    const barM = Number(/[\d.]+/.exec(await page.locator('.stage-marks text').innerHTML())![0]);
    const y = box.y + box.height / 2 + 40;
    const x = box.x + box.width / 2 - barPx / 2;
    await page.mouse.click(x, y);
    await page.mouse.click(x + barPx, y);
    const text = await page.getByText(/across the line of sight, at/).innerText();
    // The scale bar counts from the focal length alone, as on the axis. At an angle off it a pixel covers cos² of that (0.78 in the
    // corner, 28 degrees), and the lens adds a few per cent.
    expect(Number(/([\d.]+) ±/.exec(text)![1]) / barM).toBeGreaterThan(0.75);
    expect(Number(/([\d.]+) ±/.exec(text)![1]) / barM).toBeLessThan(1.05);
    await page.context().close();
  }, 60_000);
});

describe('the findings', () => {
  const log = () => askDesk<ReviewLogAnswer>('/api/review');
  const all = async () => {
    const { findings, merged } = await askDesk<FindingsAnswer>('/api/findings');
    return [...findings, ...merged];
  };

  test('a finding is confirmed, undone and done again by the keyboard alone, and the log has all of it', async () => {
    const page = await openPage(browser, desk);
    await goTo(page, '#/findings');
    const grid = page.getByRole('grid', { name: 'Findings' });
    await grid.focus();
    await page.keyboard.press('End');
    await page.keyboard.press('Home');
    await page.keyboard.press('ArrowDown');
    const id = decodeURIComponent(new URL(page.url()).hash.split('/')[2]!);
    await page.keyboard.press('c');
    // Nobody has said yet who reviews.
    await page.getByRole('dialog').waitFor();
    await page.keyboard.type('R. Tern');
    await page.keyboard.press('Enter');
    await page.getByText(/confirmed\. Undo/).waitFor();
    const decisionOf = async () =>
      (await askDesk<FindingsAnswer>('/api/findings')).findings.find((row) => row.id === id)!.decision;
    expect(await decisionOf()).toBe('confirmed');
    await page.getByRole('button', { name: 'Undo' }).click();
    await page.getByText('Taken back.').waitFor();
    expect(await decisionOf()).toBe('open');
    await page.getByRole('button', { name: 'Redo' }).click();
    await page.getByText('Done again.').waitFor();
    expect(await decisionOf()).toBe('confirmed');
    const acts = (await log()).entries.filter((entry) => entry.findingId === id).map((entry) => entry.what);
    expect(acts).toEqual(expect.arrayContaining(['confirmed', 'undo', 'redo']));
    await page.context().close();
  }, 60_000);

  test('of two reviewers on one finding the second is told, and loses neither comment nor decision', async () => {
    const id = rows.at(-1)!.id;
    const address = `#/findings/${encodeURIComponent(id)}`;
    const [first, second] = await Promise.all([
      openPage(browser, desk, { reviewer: 'Ada' }),
      openPage(browser, desk, { reviewer: 'Bo' }),
    ]);
    // The line that tells of changes is cut for the second, as a bad radio link would.
    await second.route('**/api/changes', (route) => route.abort());
    await second.reload();
    await settled(second);
    await goTo(second, address);
    await goTo(first, address);
    await second.getByLabel(/^Comment/).fill('ring looks bent');
    await first.getByRole('button', { name: 'Reject', exact: true }).click();
    await first.getByText(/rejected\. Undo/).waitFor();
    await second.getByRole('button', { name: 'Confirm', exact: true }).click();
    const alert = second.getByRole('alert');
    await alert.getByRole('heading', { name: 'Somebody else was faster' }).waitFor();
    expect(await alert.innerText()).toContain('Ada');
    expect(await second.getByLabel(/^Comment/).inputValue()).toBe('ring looks bent');
    const standing = (await askDesk<FindingsAnswer>('/api/findings')).findings.find((row) => row.id === id)!;
    expect(standing.decision).toBe('rejected');
    await alert.getByRole('button', { name: 'Do mine on top of it' }).click();
    await second.getByText(/confirmed\. Undo/).waitFor();
    const after = (await askDesk<FindingsAnswer>('/api/findings')).findings.find((row) => row.id === id)!;
    expect([after.decision, after.comment]).toEqual(['confirmed', 'ring looks bent']);
    const mine = (await log()).entries.filter((entry) => entry.findingId === id);
    expect(mine.map((entry) => [entry.who, entry.what])).toEqual(
      expect.arrayContaining([
        ['Ada', 'rejected'],
        ['Bo', 'confirmed'],
      ]),
    );
    await first.context().close();
    await second.context().close();
  }, 60_000);

  test('what one reviewer decides shows at the other within moments, without a reload', async () => {
    const id = rows[1]!.id;
    const [first, second] = await Promise.all([
      openPage(browser, desk, { reviewer: 'Ada' }),
      openPage(browser, desk, { reviewer: 'Bo' }),
    ]);
    await goTo(first, `#/findings/${encodeURIComponent(id)}`);
    await goTo(second, `#/findings/${encodeURIComponent(id)}`);
    await first.getByRole('button', { name: 'Reject', exact: true }).click();
    await second.locator('.finding-detail header').getByText('rejected').waitFor();
    await first.context().close();
    await second.context().close();
  }, 60_000);

  test('a component is corrected, two findings are merged, and both acts are taken back', async () => {
    const page = await openPage(browser, desk, { reviewer: 'Ada' });
    await goTo(page, `#/findings/${encodeURIComponent(rows[0]!.id)}`);
    const before = (await all()).find((row) => row.id === rows[0]!.id)!.componentId;
    await page.getByRole('radio', { name: 'none of the components known' }).check();
    await page.getByRole('button', { name: 'Put it on this component' }).click();
    await page.getByText(/put on none/).waitFor();
    expect((await all()).find((row) => row.id === rows[0]!.id)!.componentId).toBeNull();
    await page.getByRole('button', { name: 'Undo' }).click();
    await page.getByText('Taken back.').waitFor();
    expect((await all()).find((row) => row.id === rows[0]!.id)!.componentId).toBe(before);

    // Marked in the table with Space, merged from the details.
    const grid = page.getByRole('grid', { name: 'Findings' });
    await goTo(page, `#/findings/${encodeURIComponent(rows[2]!.id)}`);
    await grid.focus();
    await page.keyboard.press(' ');
    await goTo(page, `#/findings/${encodeURIComponent(rows[0]!.id)}`);
    await page.locator('.merge-split summary').click();
    await page.getByRole('button', { name: /Merge the marked ones/ }).click();
    await page.getByText(/^Merged into/).waitFor();
    expect((await all()).find((row) => row.id === rows[2]!.id)!.mergedInto).toBe(rows[0]!.id);
    await page.getByRole('button', { name: 'Undo' }).click();
    await page.getByText('Taken back.').waitFor();
    expect((await all()).find((row) => row.id === rows[2]!.id)!.mergedInto).toBeNull();
    await page.context().close();
  }, 60_000);

  test('opened without its key the desk is for reading and says so', async () => {
    const page = await openPage(browser, { ...desk, address: `${desk.origin}/` });
    await goTo(page, '#/findings');
    await page.getByText(/Opened for reading/).waitFor();
    expect(await page.getByRole('button', { name: 'Confirm', exact: true }).count()).toBe(0);
    await page.context().close();
  }, 60_000);
});

describe('when things go wrong', () => {
  test('an address of nothing, and a finding that is not there, are answered with a way on', async () => {
    const page = await openPage(browser, desk);
    await goTo(page, '#/evidence/no-such-finding');
    await page.getByRole('heading', { name: 'There is no such finding' }).waitFor();
    await page.getByRole('link', { name: 'To the findings' }).click();
    await page.getByRole('grid', { name: 'Findings' }).waitFor();
    await page.context().close();
  }, 60_000);

  test('a server that goes away leaves what was loaded, says how old it is, and its return is noticed', async () => {
    const own = copiedCampaign(world.at('campaign.gpkg'));
    const short = await startDesk(own.file, ['--token', 'a-token-for-this-one-test']);
    const page = await openPage(browser, short);
    await goTo(page, '#/findings');
    const grid = page.getByRole('grid', { name: 'Findings' });
    await grid.waitFor();
    await short.stop();
    await page.getByText(/The server does not answer\. What you see/).waitFor();
    expect(await grid.getByRole('row').count()).toBeGreaterThan(2);
    const port = new URL(short.origin).port;
    const again = await startDesk(own.file, ['--token', 'a-token-for-this-one-test', '--port', port]);
    await page.getByText(/The server does not answer\. What you see/).waitFor({ state: 'detached' });
    // Without the recording the kept picture stands in, and says what is missing.
    await goTo(page, '#/evidence');
    await page.getByText(/is not at hand/).waitFor();
    await page.context().close();
    await again.stop();
    own.remove();
  }, 60_000);
});
