import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fromFile } from 'geotiff';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { trueRig } from '../../rig/bench.fixture.ts';
import { colourPxFromUv } from '../../rig/colourFromUv.ts';
import { buildLookUpTable, TABLE_CHANNELS } from '../../rig/lookUpTable.ts';
import { openCvYaml } from '../../rig/openCvYaml.ts';
import type { TwoCameraModel } from '../../rig/Registration.ts';
import { readOpenCvYaml } from '../../rig/readOpenCvYaml.ts';
import { floatTiff } from './floatTiff.ts';
import { npyFile } from './npyFile.ts';

const RANGE_M = 23;
const truth = trueRig(51);
const model: TwoCameraModel = { kind: 'two-camera', ...truth, residualField: [] };
const { widthPx, heightPx } = model.uv;
const table = buildLookUpTable(model, 'colour from uv', 8);
const shape = [table.rows, table.columns, TABLE_CHANNELS];
const folder = mkdtempSync(join(tmpdir(), 'exchange-'));
afterAll(() => rmSync(folder, { recursive: true }));

/**
 * Read and used by OpenCV and numpy alone: the YAML by FileStorage, its lenses and pose by undistortPoints and projectPoints,
 * the table by numpy.load, laid over every pixel as docs/formats.md says, the picture by cv2.remap.
 */
const SCRIPT = `
import json, sys
import cv2
import numpy as np
folder, range_m = sys.argv[1], float(sys.argv[2])
f = cv2.FileStorage(folder + '/stereo.yml', cv2.FILE_STORAGE_READ)
m1, d1, m2, d2, r, t = (f.getNode(n).mat() for n in ('M1', 'D1', 'M2', 'D2', 'R', 'T'))
w, h = int(f.getNode('image_width1').real()), int(f.getNode('image_height1').real())
us, vs = np.meshgrid(np.arange(0, w, 93.0), np.arange(0, h, 77.0))
px = np.stack([us.ravel(), vs.ravel()], 1)
criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 200, 1e-14)
xy = cv2.undistortPointsIter(px.reshape(-1, 1, 2), m1, d1, None, None, criteria).reshape(-1, 2)
ray = np.hstack([xy, np.ones((len(xy), 1))])
ray *= range_m / np.linalg.norm(ray, axis=1, keepdims=True)
seen = cv2.projectPoints(ray, cv2.Rodrigues(r)[0], t, m2, d2)[0].reshape(-1, 2)
about = json.load(open(folder + '/table.json'))
a = np.load(folder + '/table.npy')
d = 1 / range_m - about['inverseRangeAtPerM']
nodes = (a[..., 0:2] + a[..., 2:4] * d + a[..., 4:6] * d * d).astype(np.float64)
x, y = np.arange(w) / about['stepPx'], np.arange(h) / about['stepPx']
i, j = np.minimum(x.astype(int), a.shape[1] - 2), np.minimum(y.astype(int), a.shape[0] - 2)
fx, fy = (x - i)[None, :, None], (y - j)[:, None, None]
row = lambda k: nodes[k][:, i] * (1 - fx) + nodes[k][:, i + 1] * fx
full = (row(j) * (1 - fy) + row(j + 1) * fy).astype(np.float32)
picture = np.fromfile(folder + '/picture.raw', np.uint8).reshape(about['pictureHeight'], about['pictureWidth'])
cv2.remap(picture, full[..., 0], full[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT).tofile(folder + '/theirs.raw')
back = cv2.FileStorage(folder + '/back.yml', cv2.FILE_STORAGE_WRITE)
for name, value in (('image_width1', w), ('image_height1', h), ('image_width2', 1920), ('image_height2', 1200)):
    back.write(name, value)
for name, value in (('M1', m1), ('D1', d1), ('M2', m2), ('D2', d2), ('R', r), ('T', t)):
    back.write(name, value)
back.release()
json.dump({'px': px.tolist(), 'seen': seen.tolist(), 'shape': list(a.shape), 'type': str(a.dtype), 'first': a[5, 7].tolist()}, open(folder + '/read.json', 'w'))
`;

interface Read {
  readonly px: [number, number][];
  readonly seen: [number, number][];
  readonly shape: number[];
  readonly type: string;
  readonly first: number[];
}
let read: Read;
const picture = smoothPicture(model.colour.widthPx, model.colour.heightPx);

beforeAll(() => {
  writeFileSync(join(folder, 'stereo.yml'), openCvYaml(model));
  writeFileSync(join(folder, 'table.npy'), npyFile(table.data, shape));
  writeFileSync(join(folder, 'table.tif'), floatTiff(table.data, table.columns, table.rows, TABLE_CHANNELS));
  const { data: _, ...about } = table;
  const size = { pictureWidth: model.colour.widthPx, pictureHeight: model.colour.heightPx };
  writeFileSync(join(folder, 'table.json'), JSON.stringify({ ...about, ...size }));
  writeFileSync(join(folder, 'picture.raw'), picture);
  const run = spawnSync('/usr/bin/python3', ['-c', SCRIPT, folder, String(RANGE_M)], { encoding: 'utf8' });
  if (run.status !== 0)
    throw new Error(
      `The second opinion did not come: these tests need OpenCV and numpy for Python (Debian: apt-get install python3-opencv).\n${run.error ?? run.stderr}`,
    );
  read = JSON.parse(readFileSync(join(folder, 'read.json'), 'utf8')) as Read;
}, 60_000);

/** Waves of 40 px and more: 12 grey levels to the pixel at the steepest. */
function smoothPicture(w: number, h: number): Uint8Array {
  return Uint8Array.from({ length: w * h }, (_, k) => {
    const [x, y] = [k % w, Math.floor(k / w)];
    return Math.round(127 + 70 * Math.sin(x / 7.3 + y / 31) + 40 * Math.cos(y / 9.1 - x / 53));
  });
}

test('lenses and pose, read by OpenCV from the exported YAML, map every pixel where ours does', () => {
  let compared = 0;
  read.px.forEach(([u, v], i) => {
    const ours = colourPxFromUv(model, u, v, 1 / RANGE_M);
    if (!ours) return;
    compared++;
    // 2000 px of focal length times OpenCV's stop at 1e-14, and rounding of the decimal text: far below.
    expect(Math.hypot(ours[0] - read.seen[i][0], ours[1] - read.seen[i][1])).toBeLessThan(1e-6);
  });
  expect(compared).toBeGreaterThan(150);
});

test('numpy reads the table as it was written', () => {
  expect(read.shape).toEqual(shape);
  expect(read.type).toBe('float32');
  const at = (5 * table.columns + 7) * TABLE_CHANNELS;
  expect(read.first).toEqual(Array.from(table.data.subarray(at, at + TABLE_CHANNELS)));
});

test('the TIFF holds the same numbers, read by an independent library', async () => {
  const image = await (await fromFile(join(folder, 'table.tif'))).getImage();
  expect([image.getHeight(), image.getWidth(), image.getSamplesPerPixel()]).toEqual(shape);
  const data = (await image.readRasters({ interleave: true })) as unknown as Float32Array;
  expect(Buffer.from(data.buffer, data.byteOffset, data.byteLength).equals(Buffer.from(table.data.buffer))).toBe(true);
});

test('a picture remapped by OpenCV through the table is ours, pixel by pixel from the model, to one grey level', () => {
  const theirs = readFileSync(join(folder, 'theirs.raw'));
  const { widthPx: w, heightPx: h } = model.colour;
  let compared = 0;
  let worst = 0;
  for (let v = 0; v < heightPx; v += 3)
    for (let u = 0; u < widthPx; u += 3) {
      const at = colourPxFromUv(model, u, v, 1 / RANGE_M);
      if (!at || at[0] < 1 || at[1] < 1 || at[0] > w - 2 || at[1] > h - 2) continue;
      const [x, y] = [Math.floor(at[0]), Math.floor(at[1])];
      const [fx, fy] = [at[0] - x, at[1] - y];
      const k = y * w + x;
      const ours =
        (1 - fy) * ((1 - fx) * picture[k] + fx * picture[k + 1]) +
        fy * ((1 - fx) * picture[k + w] + fx * picture[k + w + 1]);
      compared++;
      worst = Math.max(worst, Math.abs(Math.round(ours) - theirs[v * widthPx + u]));
    }
  expect(compared).toBeGreaterThan(100_000);
  // OpenCV rounds places to 1/32 px: 12 levels / 64 and the rounding of the grey value itself.
  expect(worst).toBeLessThanOrEqual(1);
});

test('a YAML written by OpenCV is read back to the same lenses and pose', () => {
  const back = readOpenCvYaml(readFileSync(join(folder, 'back.yml'), 'utf8'), 'back.yml');
  // FileStorage writes 17 digits.
  expect(back).toEqual(model);
});

test.each([
  ['M2', /^M2/m, 'X2', /back\.yml, M2: found no such matrix, expected a matrix of 9 numbers/],
  ['an image size', /^image_width1/m, 'width', /back\.yml, image_width1: found no such number/],
])('a YAML without %s is refused with what to do', (_, from, to, message) => {
  const text = readFileSync(join(folder, 'back.yml'), 'utf8').replace(from, to);
  expect(() => readOpenCvYaml(text, 'back.yml')).toThrow(message);
});

test('a lens of another model is refused, not cut short', () => {
  const eight = openCvYaml(model).replace(
    /D1: !!opencv-matrix[\s\S]*?data: \[[^\]]*\]/,
    'D1: !!opencv-matrix\n   rows: 1\n   cols: 8\n   dt: d\n   data: [ 0.1, 0., 0., 0., 0., 0.2, 0., 0. ]',
  );
  expect(() => readOpenCvYaml(eight, 'a.yml')).toThrow(/8 distortion coefficients, 0.2 among those after the fifth/);
});
