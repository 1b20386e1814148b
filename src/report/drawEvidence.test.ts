import { expect, test } from 'vitest';
import { drawEvidence } from './drawEvidence.ts';
import { islandCampaign } from './islandCampaign.testdata.ts';

const evidence = async () => (await islandCampaign()).evidenceOf('d-0001')[0]!;

test('the scale bar is as long on paper as its label is at the range of the discharge', async () => {
  const record = await evidence();
  const drawn = drawEvidence(record, { widthMm: 104, heightMm: 74 }, '.');
  const [, lengthM, lengthMm] = /data-length-m="([\d.]+)" data-length-mm="([\d.]+)"/.exec(drawn.svg)!;
  // A pixel spans range over focal length; the close-up shows window.widthPx of them over its width.
  const metresOnPaper = drawn.window.widthPx * (record.rangeM / record.colourFocalPx!);
  expect(Number(lengthMm) / drawn.widthMm).toBeCloseTo(Number(lengthM) / metresOnPaper, 4);
  expect(drawn.svg).toContain(`>${Number(lengthM) * 100} cm<`);
});

test('twice as far, the same hardware gets a bar half as long for each metre', async () => {
  const record = await evidence();
  const box = { widthMm: 104, heightMm: 74 };
  const mmPerM = (svg: string) => {
    const [, lengthM, lengthMm] = /data-length-m="([\d.]+)" data-length-mm="([\d.]+)"/.exec(svg)!;
    return Number(lengthMm) / Number(lengthM);
  };
  const near = mmPerM(drawEvidence(record, box, '.').svg);
  const far = mmPerM(drawEvidence({ ...record, rangeM: 2 * record.rangeM }, box, '.').svg);
  expect(near / far).toBeCloseTo(2, 3);
});

test('without a focal length there is no scale bar rather than a guessed one', async () => {
  const { colourFocalPx: _left, ...record } = await evidence();
  const drawn = drawEvidence(record, { widthMm: 104, heightMm: 74 }, '.');
  expect(drawn.metresPerPx).toBeNull();
  expect(drawn.svg).not.toContain('scale-bar');
});

test('contours enclose the discharge, in ultraviolet violet, and nothing else on the picture is violet', async () => {
  const record = await evidence();
  const drawn = drawEvidence(record, { widthMm: 104, heightMm: 74 }, '.');
  const x = (record.dischargeColourPx[0] - drawn.window.leftPx) * drawn.mmPerPx;
  const y = (record.dischargeColourPx[1] - drawn.window.topPx) * drawn.mmPerPx;
  const lines = [...drawn.svg.matchAll(/<path d="([^"]+)"[^>]*stroke="#6d1fc0"[^>]*>/g)].map(([, d]) => d!);
  const outer = lines.at(-1)!.split('Z')[0]!;
  const points = [...outer.matchAll(/[ML]([\d.]+) ([\d.]+)/g)].map(([, px, py]) => [Number(px), Number(py)] as const);
  expect(Math.min(...points.map(([px]) => px))).toBeLessThan(x);
  expect(Math.max(...points.map(([px]) => px))).toBeGreaterThan(x);
  expect(Math.min(...points.map(([, py]) => py))).toBeLessThan(y);
  expect(Math.max(...points.map(([, py]) => py))).toBeGreaterThan(y);
  expect(/<text[^>]*#6d1fc0/.test(drawn.svg)).toBe(false);
});

test('the close-up never leaves the crop, even for a discharge at its corner', async () => {
  const record = await evidence();
  const corner = { ...record, dischargeColourPx: [record.cropLeftPx + 2, record.cropTopPx + 1] as const };
  const { window } = drawEvidence(
    { ...corner, dischargeColourPx: [...corner.dischargeColourPx] },
    { widthMm: 104, heightMm: 74 },
    '.',
  );
  expect(window.leftPx).toBeGreaterThanOrEqual(record.cropLeftPx - 0.5);
  expect(window.topPx).toBeGreaterThanOrEqual(record.cropTopPx - 0.5);
  expect(window.leftPx + window.widthPx).toBeLessThanOrEqual(record.cropLeftPx + record.cropWidthPx - 0.5);
});
