// node scripts/bench/desk.mjs [CAMPAIGN]: how fast the desk answers, in Debian's Chromium, with the machine's own processor drawing in
// place of a GPU. Makes a campaign of 500 findings and 50 000 sightings from a real one (npm run demo). Prints a table in Markdown.
import { spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { cpus, loadavg, tmpdir } from 'node:os';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import { chromium } from 'playwright-core';
import { build as bundle } from 'vite';
import { build, fail, needNodePackages, needPrograms, root } from '../prepare.mjs';

needNodePackages();
needPrograms(['chromium']);
build();
const source = process.argv[2] ?? path.join(root, 'out', 'demo', 'campaign.gpkg');
if (!existsSync(source)) fail(`No campaign at ${source}: run npm run demo first, or name one.`);
const FINDINGS = 500;
const SIGHTINGS = 50_000;
const folder = mkdtempSync(path.join(tmpdir(), 'corposant-desk-bench-'));
const file = path.join(folder, 'campaign.gpkg');

/** The demo's flight with its discharges dealt out along the line again and again, and sightings strewn about it (seed 7). */
async function enlarge() {
  const { openGeoPackageCampaign } = await import(
    pathToFileURL(path.join(root, 'dist/campaign/openGeoPackageCampaign.js')).href
  );
  const from = openGeoPackageCampaign(source, { create: false });
  const about = from.about();
  let state = 7;
  const chance = () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return state / 2 ** 32;
  };
  const [discharges, findings, sightings] = [from.discharges(), from.findings(), from.sightings()];
  const many = { discharges: [], findings: [], sightings: [] };
  for (let i = 0; i < FINDINGS; i++) {
    const k = i % discharges.length;
    const id = `bench-d${String(i).padStart(3, '0')}`;
    const [e, n, u] = discharges[k].positionEnuM;
    const [lon, lat, h] = discharges[k].positionLlh;
    const shift = Math.floor(i / discharges.length) * 0.7;
    many.discharges.push({
      ...discharges[k],
      id,
      positionEnuM: [e + shift, n, u],
      positionLlh: [lon + shift / 80_000, lat, h],
    });
    many.findings.push({ ...findings.find((f) => f.id === discharges[k].id), id });
  }
  for (let i = 0; i < SIGHTINGS; i++) {
    const like = sightings[i % sightings.length];
    const [lon, lat, h] = like.seedLlh;
    many.sightings.push({
      ...like,
      id: `bench-s${i}`,
      dischargeId: i < FINDINGS ? many.discharges[i].id : null,
      seedLlh: [lon + (chance() - 0.5) * 2e-3, lat + (chance() - 0.5) * 1.5e-3, h + 20 * (chance() - 0.5)],
    });
  }
  const to = openGeoPackageCampaign(file, { create: true });
  to.initialise({ name: 'Bench', originLlh: about.originLlh, line: from.line(), lineHash: about.lineHash });
  to.saveInspection({ flight: from.flights()[0], ...many, evidence: [], coverage: from.coverage() });
  to.close();
  from.close();
}

const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];
const upper = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length * 0.95)];
const rows = [];
const note = (what, values, unit = 'ms') =>
  rows.push(
    `| ${what} | ${median(values).toFixed(1)} ${unit} | ${upper(values).toFixed(1)} ${unit} | ${values.length} |`,
  );

await enlarge();
const desk = spawn(process.execPath, [path.join(root, 'bin', 'corposant.js'), 'desk', file, '--port', '0']);
const address = await new Promise((resolve) => {
  desk.stdout.on('data', (text) => {
    const found = /https?:\/\/\S+/.exec(String(text));
    if (found) resolve(found[0]);
  });
});
const browser = await chromium.launch({
  executablePath: '/usr/bin/chromium',
  args: ['--use-angle=swiftshader', '--enable-unsafe-swiftshader'],
});
const origin = new URL(address).origin;
try {
  // First picture: from asking for the page to the line drawn and the findings counted.
  const first = [];
  for (let i = 0; i < 5; i++) {
    const context = await browser.newContext({ viewport: { width: 1280, height: 720 } });
    const page = await context.newPage();
    await page.goto(`${origin}/`, { waitUntil: 'commit' });
    await page.waitForSelector('canvas.sheet');
    first.push(await page.evaluate(() => performance.now()));
    await context.close();
  }
  note('first picture of the line, 500 findings, cold browser profile', first);

  const page = await (await browser.newContext({ viewport: { width: 1280, height: 720 } })).newPage();
  await page.goto(address);
  await page.waitForSelector('canvas.sheet');
  await page.getByLabel(/all sightings/).check();
  await page.waitForTimeout(3000);
  const frames = await page.evaluate(async () => {
    const sheet = document.querySelector('canvas.sheet');
    const times = [];
    for (let i = 0; i < 120; i++) {
      const began = performance.now();
      sheet.dispatchEvent(new KeyboardEvent('keydown', { key: i % 2 ? 'ArrowLeft' : 'ArrowRight', bubbles: true }));
      await new Promise((resolve) => requestAnimationFrame(resolve));
      // A second frame: the first one only asked for the drawing.
      await new Promise((resolve) => requestAnimationFrame(resolve));
      times.push((performance.now() - began) / 2);
    }
    return times;
  });
  note('one frame while moving the plan, 50 000 sightings shown', frames);

  await page.evaluate(() => {
    location.hash = '#/findings';
  });
  await page.getByRole('grid').waitFor();
  await page.waitForTimeout(1000);
  const acts = (key, count) =>
    page.evaluate(
      async ([name, n]) => {
        const grid = document.querySelector('[role=grid]');
        const times = [];
        for (let i = 0; i < n; i++) {
          const began = performance.now();
          grid.dispatchEvent(new KeyboardEvent('keydown', { key: name, bubbles: true }));
          await new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve)));
          times.push(performance.now() - began);
        }
        return times;
      },
      [key, count],
    );
  note('choosing the next finding, to the frame that shows it', await acts('ArrowDown', 40));
  const sorts = [];
  for (let i = 0; i < 10; i++)
    sorts.push(
      await page.evaluate(async () => {
        const began = performance.now();
        document.querySelector('.col-rate button').click();
        await new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve)));
        return performance.now() - began;
      }),
    );
  note('sorting 500 findings', sorts);

  // The overlay at the size of a large colour camera, by the very code of the desk.
  const built = await bundle({
    configFile: false,
    logLevel: 'silent',
    build: {
      write: false,
      lib: {
        entry: path.join(root, 'desk', 'src', 'overlay', 'OverlayRenderer.ts'),
        formats: ['iife'],
        name: 'Overlay',
        fileName: 'overlay',
      },
    },
  });
  const blank = await (await browser.newContext({ viewport: { width: 1280, height: 720 } })).newPage();
  await blank.addScriptTag({ content: built[0].output[0].code });
  const drawn = await blank.evaluate(async () => {
    const canvas = document.createElement('canvas');
    canvas.width = 1280;
    canvas.height = 720;
    const renderer = new Overlay.OverlayRenderer(canvas);
    const columns = 161;
    const rows = 129;
    const data = new Float32Array(columns * rows * 6);
    for (let i = 0; i < columns * rows; i++)
      data.set([(i % columns) * 8 * 1.9, Math.floor(i / columns) * 8 * 1.9, 200, 3, 0, 0], 6 * i);
    renderer.setTable({
      direction: 'colour from uv',
      stepPx: 8,
      rows,
      columns,
      inverseRangeAtPerM: 0.03,
      nearestM: 15,
      data,
    });
    const paper = new OffscreenCanvas(2448, 2048);
    const c = paper.getContext('2d');
    c.fillStyle = '#789';
    c.fillRect(0, 0, 2448, 2048);
    const picture = paper.transferToImageBitmap();
    const n = 5000;
    const px = Float32Array.from({ length: 2 * n }, (_, i) => (i % 2 ? 500 : 640) + 200 * Math.sin(i * 12.9898));
    const times = { scrub: [], picture: [] };
    for (let i = 0; i < 60; i++) {
      const withPicture = i % 5 === 0;
      const began = performance.now();
      if (withPicture) renderer.setPicture(picture, 0, 0);
      renderer.setEvents({ count: n, px, inverseRangePerM: new Float32Array(n).fill(0.025), alreadyColour: false });
      renderer.draw({
        view: { centreU: 1224, centreV: 1024, scale: 0.35, widthPx: 1280, heightPx: 720 },
        inverseRangePerM: null,
        kernelPx: 4,
        levels: [0.4, 0.2, 0.05],
        lines: true,
        dots: true,
        brightness: 1,
        violet: [0.43, 0.12, 0.75],
        halo: [1, 1, 1],
        ground: [1, 1, 1],
      });
      renderer.finish();
      times[withPicture ? 'picture' : 'scrub'].push(performance.now() - began);
    }
    return times;
  });
  note('one frame of the overlay, 5000 events over 2448 x 2048, new events', drawn.scrub);
  note('the same with a new picture', drawn.picture);
} finally {
  await browser.close();
  desk.kill();
  rmSync(folder, { recursive: true, force: true });
}
console.log(
  `Machine: ${cpus().length} x ${cpus()[0]?.model ?? 'processor'}, no GPU (SwiftShader), load ${loadavg()[0].toFixed(1)}.\n`,
);
console.log('| what | median | 95 % below | times |\n|---|---|---|---|');
console.log(rows.join('\n'));
