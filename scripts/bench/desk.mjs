// How fast the desk answers on a large campaign, in Debian's Chromium, with the machine's own processor drawing in place of a GPU.
import { spawn } from 'node:child_process';
import path from 'node:path';
import { chromium } from 'playwright-core';
import { build as bundle } from 'vite';
import { root } from '../prepare.mjs';

const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];
const upper = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length * 0.95)];

/** Starts the desk on a campaign; the address it prints, and how to end it. */
async function startDesk(file) {
  const desk = spawn(process.execPath, [path.join(root, 'bin', 'corposant.js'), 'desk', file, '--port', '0']);
  const address = await new Promise((resolve) => {
    desk.stdout.on('data', (text) => {
      const found = /https?:\/\/\S+/.exec(String(text));
      if (found) resolve(found[0]);
    });
  });
  return { address, end: () => desk.kill() };
}

/** From asking for the page to the line drawn, each time in a browser that has never seen it. */
async function firstPictures(browser, address) {
  const times = [];
  for (let i = 0; i < 7; i++) {
    const context = await browser.newContext({ viewport: { width: 1280, height: 720 } });
    const page = await context.newPage();
    await page.goto(address, { waitUntil: 'commit' });
    // The sheet has been drawn, and the block beside it counts the findings that are on it.
    times.push(
      await page
        .waitForFunction(
          () =>
            document.querySelector('canvas.sheet') !== null &&
            / open of 500/.test(document.querySelector('footer')?.textContent ?? '') &&
            performance.getEntriesByName(`${location.origin}/api/findings`).length > 0 &&
            performance.now(),
        )
        .then((handle) => handle.jsonValue()),
    );
    await context.close();
  }
  return times;
}

/** How long one frame takes while the plan is moved with every sighting on it. */
async function movingThePlan(page) {
  await page.waitForSelector('canvas.sheet');
  await page.getByLabel(/all sightings/).check();
  await page.waitForTimeout(3000);
  return page.evaluate(async () => {
    const sheet = document.querySelector('canvas.sheet');
    const frame = () => new Promise((resolve) => requestAnimationFrame(resolve));
    const times = [];
    await frame();
    let before = await frame();
    for (let i = 0; i < 120; i++) {
      sheet.dispatchEvent(
        new KeyboardEvent('keydown', { key: i % 20 < 10 ? 'ArrowLeft' : 'ArrowRight', bubbles: true }),
      );
      const now = await frame();
      times.push(now - before);
      before = now;
    }
    return times;
  });
}

/** Acts in the table of findings, each to the end of the frame that shows it. */
async function actsInTheTable(page) {
  await page.evaluate(() => {
    location.hash = '#/findings';
  });
  await page.getByRole('grid').waitFor();
  await page.waitForTimeout(2000);
  return page.evaluate(async () => {
    const grid = document.querySelector('[role=grid]');
    const shown = () => new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve)));
    const timed = async (count, act) => {
      const times = [];
      for (let i = 0; i < count; i++) {
        const began = performance.now();
        act(i);
        await shown();
        times.push(performance.now() - began);
      }
      return times;
    };
    const key = (name) => () => grid.dispatchEvent(new KeyboardEvent('keydown', { key: name, bubbles: true }));
    return {
      next: await timed(40, key('ArrowDown')),
      page: await timed(10, key('PageDown')),
      sort: await timed(12, () => document.querySelector('.col-rate button').click()),
    };
  });
}

/** A decision of the reviewer, to the table that shows it, through the server and its disk. */
async function decisions(page) {
  return page.evaluate(async () => {
    const times = [];
    for (let i = 0; i < 12; i++) {
      const { findings } = await (await fetch('/api/findings')).json();
      const { id, revision } = findings[10 + i];
      const began = performance.now();
      const answer = await fetch('/api/review', {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify({ action: 'decide', by: 'A. Bench', findings: [{ id, revision }], decision: 'confirmed' }),
      });
      if (!answer.ok) throw new Error(await answer.text());
      times.push(performance.now() - began);
    }
    return times;
  });
}

/** The overlay by the very code of the desk: 5000 events over a picture of 2448 x 2048, on a canvas of the given size. */
async function overlayFrames(browser, size) {
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
  const page = await browser.newPage();
  await page.addScriptTag({ content: built[0].output[0].code });
  const times = await page.evaluate(async ({ width, height }) => {
    const canvas = document.createElement('canvas');
    Object.assign(canvas, { width, height });
    const renderer = new Overlay.OverlayRenderer(canvas);
    const [columns, rows] = [161, 129];
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
    const times = { events: [], picture: [] };
    for (let i = 0; i < 60; i++) {
      const withPicture = i % 5 === 0;
      const began = performance.now();
      if (withPicture) renderer.setPicture(picture, 0, 0);
      renderer.setEvents({ count: n, px, inverseRangePerM: new Float32Array(n).fill(0.025), alreadyColour: false });
      renderer.draw({
        view: {
          centreU: 1224,
          centreV: 1024,
          scale: Math.min(width / 2448, height / 2048),
          widthPx: width,
          heightPx: height,
        },
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
      times[withPicture ? 'picture' : 'events'].push(performance.now() - began);
    }
    renderer.dispose();
    return times;
  }, size);
  await page.close();
  return times;
}

/** A table in Markdown of how long each thing took. */
export async function measureDesk(file) {
  const rows = [];
  const note = (what, values) => {
    rows.push(`| ${what} | ${median(values).toFixed(0)} ms | ${upper(values).toFixed(0)} ms | ${values.length} |`);
    console.error(rows.at(-1));
  };
  const desk = await startDesk(file);
  const browser = await chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: ['--use-angle=swiftshader', '--enable-unsafe-swiftshader'],
  });
  try {
    note(
      'first picture: from the address to the line with its findings, cold browser',
      await firstPictures(browser, desk.address),
    );
    const page = await (await browser.newContext({ viewport: { width: 1280, height: 720 } })).newPage();
    await page.goto(desk.address);
    note('one frame while the plan moves, all sightings on it', await movingThePlan(page));
    const acts = await actsInTheTable(page);
    note('choosing the next finding', acts.next);
    note('choosing a page further', acts.page);
    note('sorting the findings', acts.sort);
    note('a decision, kept on disk and answered', await decisions(page));
    for (const size of [
      { width: 1280, height: 720 },
      { width: 2448, height: 2048 },
    ]) {
      const frames = await overlayFrames(browser, size);
      const canvas = `${size.width} x ${size.height}`;
      note(`one frame of the overlay, new events, canvas of ${canvas}`, frames.events);
      note(`the same with a new picture of 2448 x 2048`, frames.picture);
    }
  } finally {
    await browser.close();
    desk.end();
  }
  return ['| what | median | 95 % below | times |', '|---|---|---|---|', ...rows].join('\n');
}
