// npm run bench: speed as ratios to native libraries doing the same steps on the same data, in one interleaved run.
// Writes docs/speed.md. Every figure is a median of rounds; brackets are the quartiles of the ratio from round to round.
import { spawn } from 'node:child_process';
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { cpus, tmpdir } from 'node:os';
import path from 'node:path';
import { createInterface } from 'node:readline';
import { build, needNodePackages, needPrograms, root } from './prepare.mjs';

needNodePackages();
needPrograms(['python3'], { cv2: 'python3-opencv', scipy: 'python3-scipy' });
build();
const dist = (file) => import(new URL(`../dist/${file}`, import.meta.url).href);
const ROUNDS = 9;
const folder = path.join(tmpdir(), `corposant-bench-${process.pid}`);
mkdirSync(folder, { recursive: true });

// --- the reference side, one warmed process, one thread
const python = spawn('/usr/bin/python3', [path.join(root, 'scripts', 'bench', 'native.py')], {
  stdio: ['pipe', 'pipe', 'inherit'],
});
const answers = createInterface({ input: python.stdout })[Symbol.asyncIterator]();
async function native(step, command) {
  python.stdin.write(`${JSON.stringify({ step, ...command })}\n`);
  const { value, done } = await answers.next();
  if (done) throw new Error(`the reference process ended in step ${step}`);
  return JSON.parse(value);
}

const median = (values) => quantile(values, 0.5);
function quantile(values, p) {
  const sorted = [...values].sort((a, b) => a - b);
  const at = p * (sorted.length - 1);
  return sorted[Math.floor(at)] + (sorted[Math.ceil(at)] - sorted[Math.floor(at)]) * (at - Math.floor(at));
}

/** Times `ours` and `theirs` by turns, the order reversed every other round. Both return milliseconds a piece of work. */
async function compare(name, unit, ours, theirs) {
  const rounds = [];
  await ours();
  await theirs();
  for (let round = 0; round < ROUNDS; round++) {
    const first = round % 2 === 0 ? ours : theirs;
    const second = round % 2 === 0 ? theirs : ours;
    const a = await first();
    const b = await second();
    rounds.push(round % 2 === 0 ? [a, b] : [b, a]);
  }
  const ratios = rounds.map(([a, b]) => a / b);
  const row = {
    name,
    unit,
    ours: median(rounds.map(([a]) => a)),
    theirs: median(rounds.map(([, b]) => b)),
    ratio: median(ratios),
    low: quantile(ratios, 0.25),
    high: quantile(ratios, 0.75),
  };
  console.error(`${name}: ${row.ratio.toFixed(2)} [${row.low.toFixed(2)} to ${row.high.toFixed(2)}]`);
  return row;
}
const timed = async (count, work) => {
  const begin = performance.now();
  await work();
  return (performance.now() - begin) / count;
};

// --- frames: the invented camera's own, dark but for a few events
const { randomFrom } = await dist('maths/random.js');
const width = 1280;
const height = 1024;
const count = 64;
const random = randomFrom(7);
const noise = Float32Array.from({ length: 1 << 16 }, () => 10 + 1.2 * random.normal());
const frames = Array.from({ length: count }, () => {
  const data = new Uint8Array(width * height);
  const offset = Math.floor(random.uniform() * 65536);
  for (let i = 0; i < data.length; i++) data[i] = noise[(i * 7 + offset + (i >> 13)) & 65535] + 0.5;
  for (let e = 0; e < 8; e++) {
    const x = 10 + random.uniform() * (width - 20);
    const y = 10 + random.uniform() * (height - 20);
    const charge = 120 * random.gamma(2.8) * 0.36;
    for (let v = -5; v <= 5; v++)
      for (let u = -5; u <= 5; u++) {
        const px = Math.round(x) + u;
        const py = Math.round(y) + v;
        const add = (charge * Math.exp(-((px - x) ** 2 + (py - y) ** 2) / 3.38)) / 10.62;
        data[py * width + px] = Math.min(255, data[py * width + px] + add);
      }
  }
  return { widthPx: width, heightPx: height, data };
});
const rawFile = path.join(folder, 'frames.raw');
writeFileSync(rawFile, Buffer.concat(frames.map((f) => f.data)));
const stack = { file: rawFile, width, height, count };

const { startPhotonFinder } = await dist('photon/photonFinder.js');
const { PhotonEventsBuilder } = await dist('photon/PhotonEventsBuilder.js');
const camera = {
  widthPx: width,
  heightPx: height,
  bitDepth: 8,
  spotSigmaPx: 1.3,
  saturationLevel: 255,
  gainCurve: [{ gain: 6, meanChargeDn: 120 }],
};
const finder = startPhotonFinder(camera);
finder.learnFrom(frames);
const builder = new PhotonEventsBuilder(4096);
let t = 0;
const findAll = () =>
  timed(count, () => {
    builder.clear();
    for (const frame of frames) finder.addInto(builder, frame, { frame: t, tNs: t++ * 2e7, gain: 6 });
  });

const rows = [];
rows.push(
  await compare(
    'photon events of a raw frame, against threshold and dense components by OpenCV',
    'ms a frame',
    findAll,
    async () => median(await native('scan_dense', stack)),
  ),
);
rows.push(
  await compare(
    'photon events of a raw frame, against threshold and hit list alone by OpenCV',
    'ms a frame',
    findAll,
    async () => median(await native('scan_sparse', stack)),
  ),
);

// --- PNG
const sharp = (await import('sharp')).default;
const { openUvFrames } = await dist('recording/uvFrames.js');
mkdirSync(path.join(folder, 'png'));
const index = [];
for (const [i, frame] of frames.slice(0, 24).entries()) {
  const file = path.join('png', `${i}.png`);
  await sharp(frame.data, { raw: { width, height, channels: 1 } })
    .toColourspace('b-w')
    .png({ compressionLevel: 6 })
    .toFile(path.join(folder, file));
  index.push({ frame: i, tNs: i * 2e7, file, offsetBytes: 0, exposureNs: 1.8e7, gain: 6 });
}
rows.push(
  await compare(
    'PNG frame decoded, files read, against OpenCV from memory',
    'ms a frame',
    async () => {
      const open = await openUvFrames(
        folder,
        { index: 'uv.csv', encoding: 'png', widthPx: width, heightPx: height, bitDepth: 8, frameRateHz: 50 },
        index,
      );
      const ms = await timed(index.length, async () => {
        for (let i = 0; i < index.length; i++) await open.borrow(i);
      });
      await open.close();
      return ms;
    },
    async () => median(await native('decode_png', { ...stack, count: 24 })),
  ),
);

// --- calibration of one lens on OpenCV's own sample corners
const corners = JSON.parse(
  readFileSync(path.join(root, 'tests', 'fixtures', 'opencv-chessboard', 'corners.json'), 'utf8'),
);
const { calibrateLens } = await dist('rig/calibrateLens.js');
const pairsOf = (flat) => Array.from({ length: flat.length / 2 }, (_, i) => [flat[2 * i], flat[2 * i + 1]]);
const views = corners.views.map((view) => ({ name: view.name, px: pairsOf(view.left) }));
const squareM = corners.squareMm / 1000;
const board = [];
for (let r = 0; r < corners.rows; r++)
  for (let c = 0; c < corners.columns; c++) board.push([c * squareM, r * squareM, 0]);
const boardFile = path.join(folder, 'board.json');
writeFileSync(
  boardFile,
  JSON.stringify({ rows: corners.rows, columns: corners.columns, squareM, views: views.map((v) => v.px) }),
);
rows.push(
  await compare(
    `calibration of a lens, ${views.length} views of ${board.length} corners, against OpenCV (LU)`,
    'ms',
    () =>
      timed(5, () => {
        for (let i = 0; i < 5; i++)
          calibrateLens(board, views, { widthPx: corners.widthPx, heightPx: corners.heightPx });
      }),
    async () => median(await native('calibrate', { file: boardFile, count: 5 })),
  ),
);

// --- placing: rays to a point
const { solveLeastSquares } = await dist('maths/leastSquares.js');
const bundles = Array.from({ length: 200 }, () => {
  const at = [random.normal(), random.normal(), random.normal()];
  const origins = Array.from({ length: 100 }, (_, i) => [(i - 50) * 0.3, -40, 1]);
  const directions = origins.map((o) => {
    const d = [at[0] - o[0] + 0.05 * random.normal(), at[1] - o[1], at[2] - o[2] + 0.05 * random.normal()];
    const k = 1 / Math.hypot(...d);
    return d.map((x) => x * k);
  });
  return { origins, directions, start: [0, 0, 0] };
});
const bundleFile = path.join(folder, 'bundles.json');
writeFileSync(bundleFile, JSON.stringify(bundles));
const place = ({ origins, directions, start }) =>
  solveLeastSquares({
    start,
    residualCount: 3 * origins.length,
    evaluateInto(residuals, jacobian, x) {
      for (let i = 0; i < origins.length; i++) {
        const o = origins[i];
        const d = directions[i];
        const v = [x[0] - o[0], x[1] - o[1], x[2] - o[2]];
        const along = v[0] * d[0] + v[1] * d[1] + v[2] * d[2];
        for (let a = 0; a < 3; a++) {
          const off = (v[a] - along * d[a]) / along;
          residuals[3 * i + a] = off;
          if (jacobian)
            for (let b = 0; b < 3; b++)
              jacobian[9 * i + 3 * a + b] = ((a === b ? 1 : 0) - d[a] * d[b] - off * d[b]) / along;
        }
      }
      return true;
    },
  });
rows.push(
  await compare(
    'a point from 100 rays by least squares, against SciPy (MINPACK)',
    'ms',
    () => timed(bundles.length, () => bundles.forEach(place)),
    async () => median(await native('place', { file: bundleFile })),
  ),
);

python.stdin.end();
rmSync(folder, { recursive: true });
const page = `# Speed

Ratios of our time to that of a native library doing the step named on the same data, one thread each, by turns in one run of
${ROUNDS} rounds; brackets are the quartiles of the ratio from round to round. Below 1 is faster. Frames are ${width} x ${height}, 8 bit, read noise
1.2 grey levels, 8 events each. "Photon events" is the whole step: dark level kept up to date, threshold, regions, sub-pixel positions, charge.

Made on ${new Date().toISOString().slice(0, 10)} by \`npm run bench\` on ${cpus()[0].model} with Node ${process.versions.node}.

| step | unit | ours | native | ratio |
|---|---|---|---|---|
${rows.map((r) => `| ${r.name} | ${r.unit} | ${r.ours.toPrecision(3)} | ${r.theirs.toPrecision(3)} | **${r.ratio.toFixed(2)}** [${r.low.toFixed(2)} to ${r.high.toFixed(2)}] |`).join('\n')}
`;
writeFileSync(path.join(root, 'docs', 'speed.md'), page);
console.log(page);
