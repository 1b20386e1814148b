// npm run bench: speed as ratios to native libraries doing the same steps on the same data, in one interleaved run.
// Writes docs/speed.md. Every figure is a median of rounds; brackets are the quartiles of the ratio from round to round.
import { spawn } from 'node:child_process';
import { mkdirSync, rmSync, writeFileSync } from 'node:fs';
import { cpus, loadavg, tmpdir } from 'node:os';
import path from 'node:path';
import { createInterface } from 'node:readline';
import { ladderTime, lensRows } from './bench/calibration.mjs';
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
/** Median over pieces of work done one after the other, as the reference side's times are taken. */
const timedEach = (items, work) =>
  median(
    items.map((item, k) => {
      const begin = performance.now();
      work(item, k);
      return performance.now() - begin;
    }),
  );
const timed = async (count, work) => {
  const begin = performance.now();
  await work();
  return (performance.now() - begin) / count;
};

// --- frames: the invented camera's own, dark but for a few events
const { randomFrom } = await dist('maths/random.js');
const width = 1280;
const height = 1024;
// Not a multiple of 32: a row joins the dark level's sums once in 32 frames, and should meet all of them in turn.
const count = 63;
const random = randomFrom(7);
const noise = Float32Array.from({ length: 1 << 16 }, () => 10 + 1.2 * random.normal());
const frames = Array.from({ length: count }, () => {
  const data = new Uint8Array(width * height);
  const offset = Math.floor(random.uniform() * 65536);
  for (let i = 0; i < data.length; i++) data[i] = noise[(i * 7 + offset + (i >> 13)) & 65535] + 0.5;
  for (let e = 0; e < 5; e++) {
    const x = 10 + random.uniform() * (width - 20);
    const y = 10 + random.uniform() * (height - 20);
    const charge = 120 * random.gamma(2.8) * 0.36;
    for (let v = -5; v <= 5; v++)
      for (let u = -5; u <= 5; u++) {
        const px = Math.round(x) + u;
        const py = Math.round(y) + v;
        const add = (charge * Math.exp(-((px - x) ** 2 + (py - y) ** 2) / 3.38)) / 10.62;
        data[py * width + px] = Math.min(255, data[py * width + px] + add + 0.5);
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
const { shareSpots, simdSpotKernels } = await dist('photon/simdSpotKernels.js');
// Frames lie where readers put them: in the memory of the kernels.
const finder = startPhotonFinder(camera, { shared: shareSpots(width, height, 8, 1, count) });
finder.learnFrom(frames);
const placed = frames.map((frame, k) => {
  finder.frameBuffers[k].set(frame.data);
  return { ...frame, data: finder.frameBuffers[k] };
});
const builder = new PhotonEventsBuilder(4096);
let t = 0;
/** Processor time, so that a busy machine does not count: the whole process, collection of garbage and reading included. */
const processorMs = () => {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e3;
};
const findAll = async () => {
  const begin = processorMs();
  builder.clear();
  for (const frame of placed) finder.addInto(builder, frame, { frame: t, tNs: t++ * 2e7, gain: 6 });
  return (processorMs() - begin) / count;
};

const rows = [];
const dense = async () => median(await native('scan_dense', stack));
const sparse = async () => median(await native('scan_sparse', stack));
rows.push(
  await compare('photon events of a raw frame, against threshold and dense components', 'ms a frame', findAll, dense),
);
rows.push(
  await compare('photon events of a raw frame, against threshold and hit list alone', 'ms a frame', findAll, sparse),
);

// --- the passes over frames by themselves, on frames in the kernels' memory
const { HitRegions } = await dist('photon/hitRegions.js');
const { emptyHits } = await dist('photon/spotFilter.js');
const regions = new HitRegions(width);
const hits = emptyHits();
function kernelsWith(images, depth) {
  const kernels = simdSpotKernels(width, height, depth, shareSpots(width, height, depth, 1, images.length));
  for (const [k, image] of images.entries()) kernels.frames[k].set(image);
  return kernels;
}
function scanning(kernels, dn, firstLook) {
  kernels.meanDn.fill(10 * dn);
  kernels.noiseDn.fill(1.235 * dn); // read noise and rounding
  kernels.settle({ firstLook, threshold: 5, clip: 4 });
  return async () =>
    timedEach(kernels.frames, (image) => {
      kernels.take(image);
      kernels.scanInto(hits, 0);
      regions.borrow(hits);
    });
}
const bytes = frames.map((frame) => frame.data);
const eight = kernelsWith(bytes, 8);
const scan8 = scanning(eight, 1, 3.5);
const matched = async () => median(await native('scan_matched', stack));
rows.push(
  await compare('matched scan with regions, 8 bit, against threshold and hit list', 'ms a frame', scan8, sparse),
);
rows.push(await compare('the same, against Gaussian 5 x 5, threshold and hit list', 'ms a frame', scan8, matched));
rows.push(
  await compare(
    'the same without the first look, against Gaussian 5 x 5, threshold and hit list',
    'ms a frame',
    scanning(kernelsWith(bytes, 8), 1, 0),
    matched,
  ),
);
const words = bytes.slice(0, 32).map((data) => Uint16Array.from(data, (value) => 90 * value));
const wordFile = path.join(folder, 'words.raw');
writeFileSync(wordFile, Buffer.concat(words.map((data) => Buffer.from(data.buffer))));
const wordStack = { file: wordFile, width, height, count: words.length, depth: 16 };
const scan16 = scanning(kernelsWith(words, 16), 90, 3.5);
rows.push(
  await compare('matched scan with regions, 16 bit, against threshold and hit list', 'ms a frame', scan16, async () =>
    median(await native('scan_sparse', wordStack)),
  ),
);
rows.push(
  await compare('the same, against separable 5 x 5, threshold and hit list', 'ms a frame', scan16, async () =>
    median(await native('scan_matched', wordStack)),
  ),
);
const fold = async () =>
  timedEach(eight.frames, (image, k) => {
    if (k % 32 === 0) eight.clearSums();
    eight.take(image);
    eight.fold(0, 0, 1);
  });
rows.push(
  await compare(
    'background: clipped sums of whole frames, against level and variance by accumulateWeighted',
    'ms a frame',
    fold,
    async () => median(await native('background', stack)),
  ),
);
rows.push(
  await compare('the same, against accumulate and accumulateSquare, which clip nothing', 'ms a frame', fold, async () =>
    median(await native('background_sums', stack)),
  ),
);

// --- remap by a fixed map: a turn by 2 degrees about the centre, and a lens
const { fixRemapMap } = await dist('camera/RemapMap.js');
const { startRemap } = await dist('camera/remap.js');
for (const [name, widthPx, heightPx, channels] of [
  ['grey, 1280 x 1024', 1280, 1024, 1],
  ['grey, 2448 x 2048', 2448, 2048, 1],
  ['RGB, 2448 x 2048', 2448, 2048, 3],
  ['RGBA, 2448 x 2048', 2448, 2048, 4],
]) {
  const places = new Float32Array(2 * widthPx * heightPx);
  const u = places.subarray(0, widthPx * heightPx);
  const v = places.subarray(widthPx * heightPx);
  for (let y = 0; y < heightPx; y++)
    for (let x = 0; x < widthPx; x++) {
      const [dx, dy] = [x - widthPx / 2, y - heightPx / 2];
      const lens = 1 - (0.03 * (dx * dx + dy * dy)) / (widthPx * widthPx);
      u[y * widthPx + x] = widthPx / 2 + lens * (dx * 0.99939 - dy * 0.0349);
      v[y * widthPx + x] = heightPx / 2 + lens * (dx * 0.0349 + dy * 0.99939);
    }
  const images = Array.from({ length: 3 }, () =>
    Uint8Array.from({ length: widthPx * heightPx * channels }, () => 256 * random.uniform()),
  );
  const imageFile = path.join(folder, 'image.raw');
  const mapFile = path.join(folder, 'map.raw');
  writeFileSync(imageFile, Buffer.concat(images));
  writeFileSync(mapFile, Buffer.from(places.buffer));
  const remap = startRemap(
    fixRemapMap(u, v, { widthPx, heightPx, sourceWidthPx: widthPx, sourceHeightPx: heightPx, channels }),
  );
  // As in use: the source is where the decoder put it, the output is read from where it is.
  remap.source.set(images[0]);
  rows.push(
    await compare(
      `remap ${name}, against cv2.remap with fixed maps`,
      'ms',
      async () => timedEach([1, 2, 3, 4, 5, 6], () => remap.run(remap.source)),
      async () =>
        median(
          await native('remap', {
            file: imageFile,
            map: mapFile,
            width: widthPx,
            height: heightPx,
            channels,
            count: 2,
          }),
        ),
    ),
  );
}

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

// --- from files to events, on one core; and by workers
const rates = [];
async function rateOf(name, index, stream) {
  const perSecond = [];
  for (let round = 0; round < ROUNDS; round++) {
    const open = await openUvFrames(folder, stream, index, finder.frameBuffers[0]);
    const begin = processorMs();
    for (let i = 0; i < index.length; i++) {
      builder.clear();
      finder.addInto(builder, await open.borrow(i), { frame: t, tNs: t++ * 2e7, gain: 6 });
    }
    perSecond.push((1e3 * index.length) / (processorMs() - begin));
    await open.close();
  }
  rates.push({ name, perSecond: median(perSecond), best: Math.max(...perSecond) });
}
const pngStream = { index: 'uv.csv', encoding: 'png', widthPx: width, heightPx: height, bitDepth: 8, frameRateHz: 50 };
await rateOf('PNG files to photon events', index, pngStream);
const rawStream = { ...pngStream, encoding: 'raw' };
const rawIndex = frames.map((_, i) => ({
  frame: i,
  tNs: i * 2e7,
  file: 'frames.raw',
  offsetBytes: i * width * height,
  exposureNs: 1.8e7,
  gain: 6,
}));
await rateOf('raw file to photon events', [...rawIndex, ...rawIndex, ...rawIndex, ...rawIndex], rawStream);
// --- the same by threads, as an inspection works: against none, by the clock and by processor time
const { openEventSource } = await dist('jobs/inspect/eventSource.js');
const [WARM, COUNTED] = [16 * count, 32 * count];
async function flightBy(threads) {
  const index = Array.from({ length: WARM + COUNTED }, (_, i) => ({ ...rawIndex[i % count], frame: i, tNs: i * 2e7 }));
  const source = await openEventSource({ camera, folder, stream: rawStream, index }, threads);
  source.finder.learnFrom(await source.firstFrames(64));
  const through = async (from, end) => {
    builder.clear();
    for (let i = from; i < end; i++) await source.addInto(builder, i);
  };
  await through(0, WARM);
  const [begin, used] = [performance.now(), processorMs()];
  await through(WARM, WARM + COUNTED);
  const [ms, processor] = [performance.now() - begin, processorMs() - used];
  await source.close();
  return { perSecond: (1e3 * COUNTED) / ms, perProcessorSecond: (1e3 * COUNTED) / processor };
}
const scaling = { byClock: [], byProcessor: [] };
for (let round = 0; round < ROUNDS; round++) {
  const one = await flightBy(0);
  const two = await flightBy(2);
  scaling.byClock.push(two.perSecond / one.perSecond);
  scaling.byProcessor.push(two.perProcessorSecond / one.perProcessorSecond);
}
const spread = (values) =>
  `${median(values).toFixed(2)} [${quantile(values, 0.25).toFixed(2)} to ${quantile(values, 0.75).toFixed(2)}]`;

// --- calibration
rows.push(...(await lensRows({ dist, compare, native, timed, median, folder })));
const ladder = await ladderTime({ dist, processorMs, median });

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

// --- the same through the product's own path: sightings with smear, memberships and every shared error, 10,000 of them
const { placeSighting } = await dist('place/placeSighting.js');
const { passOf10000 } = await import('./bench/passOf10000.mjs');
const flown = passOf10000(randomFrom(17));
const flownFile = path.join(folder, 'flown.json');
writeFileSync(flownFile, JSON.stringify(flown.bundles));
let placedInS = 0;
const placeAll = () => {
  const begin = performance.now();
  let placed = 0;
  for (const sighting of flown.sightings)
    if (placeSighting(sighting, flown.rays, flown.poses, flown.errors).kind === 'placed') placed++;
  if (placed !== flown.sightings.length)
    throw new Error(`${placed} of ${flown.sightings.length} sightings were placed`);
  placedInS = (performance.now() - begin) / 1000;
  return (placedInS * 1000) / placed;
};
rows.push(
  await compare(
    'a sighting of 100 rays placed, with random and shared errors (10,000 of them), against the position alone by SciPy (MINPACK)',
    'ms',
    placeAll,
    async () => {
      const times = await native('place', { file: flownFile });
      return times.reduce((sum, ms) => sum + ms, 0) / times.length;
    },
  ),
);
console.error(`10,000 sightings of 100 rays placed in ${placedInS.toFixed(1)} s`);

python.stdin.end();
rmSync(folder, { recursive: true });
const page = `# Speed

Ratios of our time to that of a native library doing the step named on the same data, one thread each, by turns in one run of
${ROUNDS} rounds; brackets are the quartiles of the ratio from round to round. Below 1 is faster. Frames are ${width} x ${height}, 8 bit, read noise
1.2 grey levels, 5 events each, in memory on both sides. "Photon events" is the whole step: dark level kept up to date, threshold, regions, sub-pixel positions, charge.

Made on ${new Date().toISOString().slice(0, 10)} by \`npm run bench\` on ${cpus()[0].model} with Node ${process.versions.node}.

| step | unit | ours | native | ratio |
|---|---|---|---|---|
${rows.map((r) => `| ${r.name} | ${r.unit} | ${r.ours.toPrecision(3)} | ${r.theirs.toPrecision(3)} | **${r.ratio.toFixed(2)}** [${r.low.toFixed(2)} to ${r.high.toFixed(2)}] |`).join('\n')}

"Photon events" and the rates below count processor time, all threads together, so that they mean one core. Rates depend on the machine and on what else it is doing; the load average was ${loadavg()[0].toFixed(1)} on ${cpus().length} cores at the end of this run.

| way | frames per second of processor time, median of ${ROUNDS} | best |
|---|---|---|
${rates.map((r) => `| ${r.name} | ${r.perSecond.toFixed(0)} | ${r.best.toFixed(0)} |`).join('\n')}

Both cameras adjusted to ${ladder.correspondences} correspondences (${ladder.frames} instants, ${ladder.sweeps} ranges): ${ladder.fitS.toFixed(1)} s of processor time, outliers and starts of the poses included; the whole
ladder of models on them, cross-validated with every range left out in turn: ${ladder.ladderS.toFixed(1)} s.

Two threads beside the main one, as \`inspect --threads 2\` has them, against none, raw file to photon events: ${spread(scaling.byClock)} times as many
frames a second by the clock, ${spread(scaling.byProcessor)} times as many a second of processor time (two free cores give at most twice that).
`;
writeFileSync(path.join(root, 'docs', 'speed.md'), page);
console.log(page);
