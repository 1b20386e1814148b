/**
 * An hour recorded as a flight would be, beside a recording of the same hour that keeps every image: what share is kept, and whether any
 * event or any image of a glow is lost. Then the memory that recording and inspecting it take.
 */
import { spawn } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import type { GreyFrame } from '../../src/camera/GreyFrame.ts';
import type { JobWatch } from '../../src/jobs/JobWatch.ts';
import { RECORDER_DEFAULTS } from '../../src/jobs/record/Recorder.ts';
import { type RecordOutcome, recordStream } from '../../src/jobs/record/recordFlight.ts';
import { type Random, randomFrom } from '../../src/maths/random.ts';
import { startGlowTrigger } from '../../src/photon/trigger.ts';
import { meanChargeDn } from '../../src/photon/UvCamera.ts';
import { fileSink } from '../../src/recording/ByteSink.ts';
import type { FlightDescription } from '../../src/recording/FlightDescription.ts';
import { type McapFlight, openMcapFlight } from '../../src/recording/mcapFlight.ts';
import { rigDescription } from '../../src/recording/RigDescription.ts';
import type { Incoming, IncomingItem } from '../../src/recording/recorder/IncomingItem.ts';
import type { Study } from './Study.ts';

const SECONDS = 3600;
const FRAMES_PER_S = 50;
const COLOUR_PER_S = 5;
const POSES_PER_S = 20;
const WIDTH_PX = 192;
const HEIGHT_PX = 144;
const MEAN_CHARGE_DN = 120;
const BACKGROUND_PER_FRAME = 0.5;
const PIXELS = WIDTH_PX * HEIGHT_PX;
/** Sources that pass through the picture, one after the other, and how many events a frame they give. */
const SOURCES = 40;
const RATES = [0.25, 0.5, 1, 2, 4];
const SPEED_PX_PER_FRAME = 1.6;
const START_NS = 1e9;
const NS_PER_FRAME = 1e9 / FRAMES_PER_S;

const lens = { widthPx: WIDTH_PX, heightPx: HEIGHT_PX, pixelPitchUm: 20, focalMm: 6, focalSigmaMm: 0.02 } as const;
const RIG = {
  format: 'corposant-rig',
  version: 1,
  id: 'hour',
  cameras: {
    uv: {
      ...lens,
      shutter: 'global',
      bitDepth: 8,
      spotSigmaPx: 1.3,
      blurSigmaPx: 0.9,
      saturationLevel: 255,
      gainCurve: [{ gain: 1, meanChargeDn: MEAN_CHARGE_DN }],
      apertureMm: 15,
      bandNm: [240, 280],
      eventsPerPhoton: 0.08,
    },
    colour: { ...lens, shutter: 'global', bitDepth: 8 },
  },
  pair: { colourInUvM: [0.15, 0, 0.01], sigmaM: 0.003, rotationSigmaDeg: 0.5 },
  mounting: {
    uvInBodyM: [0.1, 0.1, 0.2],
    leverArmSigmaM: 0.01,
    yawDeg: 90,
    pitchDeg: 0,
    rollDeg: 0,
    boresightSigmaDeg: 0.02,
    timeOffsetSigmaMs: 0.3,
  },
};

const description = (name: string): FlightDescription => ({
  format: 'corposant-flight',
  version: 1,
  name,
  rigId: 'hour',
  epoch: { utc: '2026-05-12T06:30:00Z', scale: 'UTC' },
  streams: {
    uv: {
      index: 'uv.csv',
      encoding: 'raw',
      widthPx: WIDTH_PX,
      heightPx: HEIGHT_PX,
      bitDepth: 8,
      frameRateHz: FRAMES_PER_S,
    },
    colour: {
      index: 'colour.csv',
      encoding: 'jpeg',
      widthPx: WIDTH_PX,
      heightPx: HEIGHT_PX,
      bitDepth: 8,
      frameRateHz: COLOUR_PER_S,
    },
  },
  trajectory: { file: 'trajectory.csv', datum: 'EPSG:4979', heightKind: 'ellipsoidal' },
  conditions: { temperatureC: 9, pressureHPa: 1016, relativeHumidityPct: 80, mainsHz: 50, weather: 'dry' },
});

interface PassingSource {
  readonly rate: number;
  readonly fromFrame: number;
  readonly endFrame: number;
  readonly yPx: number;
}

/** Everything about the hour that chance decided beforehand, so that each frame can be made again on its own. */
interface Hour {
  readonly seed: number;
  readonly frames: number;
  readonly sources: readonly PassingSource[];
  /** Rows of darkness to cut frames from: a pattern of columns, read noise of 1.2 DN, rounded. */
  readonly darkness: Uint8Array;
}

function inventHour(seed: number, seconds: number): Hour {
  const random = randomFrom(seed);
  const frames = seconds * FRAMES_PER_S;
  const length = Math.ceil(WIDTH_PX / SPEED_PX_PER_FRAME);
  const sources = Array.from(
    { length: Math.ceil((SOURCES * seconds) / SECONDS) },
    (_, k, of = Math.ceil((SOURCES * seconds) / SECONDS)) => {
      const fromFrame = Math.floor(((k + 0.2 + 0.5 * random.uniform()) * frames) / of);
      return {
        rate: RATES[k % RATES.length],
        fromFrame,
        endFrame: Math.min(frames, fromFrame + length),
        yPx: 12 + random.uniform() * (HEIGHT_PX - 24),
      };
    },
  );
  const darkness = new Uint8Array(WIDTH_PX * 20_000);
  for (let i = 0; i < darkness.length; i++) {
    const column = i % WIDTH_PX;
    darkness[i] = Math.round(10 + 1.5 * Math.sin(column * 2.399) + 1.2 * random.normal());
  }
  return { seed, frames, sources, darkness };
}

/** Frame `i`, and how many photons of a source are in it. The same whenever it is asked for. */
function makeFrame(hour: Hour, i: number): { frame: GreyFrame; photons: number } {
  const random = randomFrom(hour.seed * 1_000_003 + i);
  const row = Math.floor(random.uniform() * (hour.darkness.length / WIDTH_PX - HEIGHT_PX));
  const data = hour.darkness.slice(row * WIDTH_PX, row * WIDTH_PX + PIXELS);
  for (let n = random.poisson(BACKGROUND_PER_FRAME); n > 0; n--)
    addSpot(data, random, random.uniform() * (WIDTH_PX - 1), random.uniform() * (HEIGHT_PX - 1));
  let photons = 0;
  for (const source of hour.sources) {
    if (i < source.fromFrame || i >= source.endFrame) continue;
    for (let n = random.poisson(source.rate); n > 0; n--, photons++)
      addSpot(
        data,
        random,
        SPEED_PX_PER_FRAME * (i - source.fromFrame) + 0.9 * random.normal(),
        source.yPx + 0.9 * random.normal(),
      );
  }
  return { frame: { widthPx: WIDTH_PX, heightPx: HEIGHT_PX, data }, photons };
}

function addSpot(data: Uint8Array, random: Random, xPx: number, yPx: number): void {
  const charge = MEAN_CHARGE_DN * random.gamma(1 / 0.36) * 0.36;
  const peak = charge / (2 * Math.PI * 1.69);
  for (let y = Math.max(0, Math.ceil(yPx - 5)); y <= Math.min(HEIGHT_PX - 1, yPx + 5); y++)
    for (let x = Math.max(0, Math.ceil(xPx - 5)); x <= Math.min(WIDTH_PX - 1, xPx + 5); x++) {
      const light = peak * Math.exp(-((x - xPx) ** 2 + (y - yPx) ** 2) / 3.38);
      data[y * WIDTH_PX + x] = Math.min(255, Math.round(data[y * WIDTH_PX + x] + light));
    }
}

/** The hour as a stream that waits for whoever reads it: nothing of it is held. */
async function streamOf(hour: Hour, name: string): Promise<Incoming> {
  const jpeg = await sharp({
    create: { width: WIDTH_PX, height: HEIGHT_PX, channels: 3, background: { r: 90, g: 120, b: 60 } },
  })
    .jpeg()
    .toBuffer();
  return {
    description: description(name),
    async *items(): AsyncGenerator<IncomingItem> {
      for (let i = 0; i < hour.frames; i++) {
        const tNs = START_NS + i * NS_PER_FRAME;
        for (let p = 0; i === 0 && p < 2; p++) yield pose(p - 2);
        if ((i * POSES_PER_S) % FRAMES_PER_S < POSES_PER_S) yield pose(Math.floor((i * POSES_PER_S) / FRAMES_PER_S));
        yield {
          kind: 'uv',
          tNs,
          exposureNs: 18_000_000,
          gain: 1,
          bytes: PIXELS,
          read: async () => makeFrame(hour, i).frame,
        };
        if (i % (FRAMES_PER_S / COLOUR_PER_S) === 0)
          yield {
            kind: 'colour',
            tNs: tNs + 3e6,
            exposureNs: 1.5e6,
            bytes: jpeg.length,
            read: async () => ({ format: 'jpeg', bytes: jpeg }),
          };
      }
      for (let p = 0; p < 4; p++) yield pose((hour.frames / FRAMES_PER_S) * POSES_PER_S + p);
    },
  };
}

/** A flight north at 15 m/s. */
const pose = (p: number): IncomingItem => ({
  kind: 'pose',
  row: {
    tNs: START_NS + (p * 1e9) / POSES_PER_S,
    latDeg: 44.3 + (p * 15) / POSES_PER_S / 111_120,
    lonDeg: -31.7,
    heightM: 160,
    rollDeg: 0,
    pitchDeg: 0,
    headingDeg: 0,
    velocityNedMps: [15, 0, 0],
    sigma: [0.03, 0.03, 0.05, 0.01, 0.01, 0.03],
  },
});

async function recordHour(hour: Hour, file: string, keepEverything: boolean, watch: JobWatch): Promise<RecordOutcome> {
  const sink = await fileSink(file);
  try {
    const rigJson = JSON.stringify(RIG);
    return await recordStream(
      await streamOf(hour, keepEverything ? 'an hour, everything kept' : 'an hour'),
      { rig: rigDescription.parse(RIG), rigHash: 'invented', rigJson },
      sink,
      { ...RECORDER_DEFAULTS, keepEverything, rigFile: 'rig.json', outFile: file, realtime: false, idleS: 1 },
      watch,
    );
  } finally {
    await sink.close();
  }
}

const frameAt = (tNs: number): number => Math.round((tNs - START_NS) / NS_PER_FRAME);

/** Frames near a glow by the events of the full recording: what the recorder must have kept as images. */
function framesOfGlows(full: McapFlight): Set<number> {
  const trigger = startGlowTrigger({
    widthPx: WIDTH_PX,
    heightPx: HEIGHT_PX,
    blurSigmaPx: RIG.cameras.uv.blurSigmaPx,
    falseGlowsPerHour: RECORDER_DEFAULTS.falseGlowsPerHour,
    frameRateHz: FRAMES_PER_S,
  });
  const events = full.photonEvents;
  const near = new Set<number>();
  let from = 0;
  for (let f = 0; f < full.uvIndex.length; f++) {
    let to = from;
    while (to < events.count && events.frame[to] === f) to++;
    const glow = trigger.judge({ ...events, from, to }, meanChargeDn(RIG.cameras.uv, 1));
    if (glow.kind !== 'none')
      for (let k = -FRAMES_PER_S * RECORDER_DEFAULTS.preRollS; k <= FRAMES_PER_S * RECORDER_DEFAULTS.postRollS; k++)
        if (f + k >= 0 && f + k < full.uvIndex.length) near.add(f + k);
    from = to;
  }
  return near;
}

/** Peak resident memory, bytes, of a command of ours on its own. */
async function peakMemoryOf(args: readonly string[]): Promise<{ bytes: number; code: number | null; seconds: number }> {
  const begin = process.hrtime.bigint();
  const child = spawn(process.execPath, ['bin/corposant.js', ...args], { stdio: ['ignore', 'ignore', 'inherit'] });
  let bytes = 0;
  const watching = setInterval(() => {
    try {
      const status = readFileSync(`/proc/${child.pid}/status`, 'utf8');
      bytes = Math.max(bytes, 1024 * Number(/VmHWM:\s+(\d+)/.exec(status)?.[1] ?? 0));
    } catch {
      // It has ended between two looks.
    }
  }, 50);
  const code = await new Promise<number | null>((resolve) => child.once('exit', resolve));
  clearInterval(watching);
  return { bytes, code, seconds: Number(process.hrtime.bigint() - begin) / 1e9 };
}

const mebi = (bytes: number): string => (bytes / 2 ** 20).toFixed(0);
const percent = (share: number, digits = 1): string => `${(100 * share).toFixed(digits)} %`;

export const study: Study = async ({ seeds, firstSeed, progress }) => {
  const seconds = seeds === undefined ? SECONDS : seeds; // for a short try: so many seconds instead of an hour
  const folder = await mkdtemp(join(tmpdir(), 'corposant-recorder-'));
  const watch: JobWatch = { progress: () => undefined, note: () => undefined };
  try {
    const hour = inventHour(firstSeed ?? 4101, seconds);
    const [file, fullFile] = [join(folder, 'hour.mcap'), join(folder, 'full.mcap')];
    let most = 0;
    const looking = setInterval(() => {
      most = Math.max(most, process.memoryUsage().rss);
    }, 100);
    const outcome = await recordHour(hour, file, false, watch);
    clearInterval(looking);
    progress(`recorded: ${outcome.glows} glows, ${outcome.bytesOut} bytes`);
    const full = await recordHour(hour, fullFile, true, watch);
    progress(`recorded in full: ${full.bytesOut} bytes`);

    const [ours, theirs] = [await openMcapFlight(file), await openMcapFlight(fullFile)];
    let eventsAlike = ours.photonEvents.count === theirs.photonEvents.count;
    for (const name of ['frame', 'tNs', 'xPx', 'yPx', 'charge', 'sigmaPx', 'flags'] as const)
      for (let k = 0; eventsAlike && k < ours.photonEvents.count; k++)
        eventsAlike = ours.photonEvents[name][k] === theirs.photonEvents[name][k];
    const kept = new Set(ours.uvIndex.filter(ours.hasUvImage).map(({ tNs }) => frameAt(tNs)));
    const ofGlows = framesOfGlows(theirs);
    const lost = [...ofGlows].filter((frame) => !kept.has(frame)).length;
    let [compared, different] = [0, 0];
    for (const entry of ours.uvIndex.filter(ours.hasUvImage).filter((_, k) => k % 97 === 0)) {
      const [a, b] = [await ours.readUvFrame(entry), await theirs.readUvFrame(entry)];
      const made = makeFrame(hour, frameAt(entry.tNs)).frame.data;
      compared++;
      if (!a || !b || a.data.some((value, k) => value !== made[k] || value !== b.data[k])) different++;
    }
    progress(`compared: ${compared} images, ${different} different; ${lost} frames of glows lost`);
    const rows = RATES.map((rate) => {
      let [lit, litKept, seen, all] = [0, 0, 0, 0];
      for (const source of hour.sources) {
        if (source.rate !== rate) continue;
        all++;
        let any = false;
        for (let i = source.fromFrame; i < source.endFrame; i++) {
          if (makeFrame(hour, i).photons === 0) continue;
          lit++;
          if (kept.has(i)) litKept++;
          any ||= ofGlows.has(i);
        }
        if (any) seen++;
      }
      return { rate, lit, litKept, seen, all };
    });
    await ours.close();
    await theirs.close();
    await rm(fullFile);

    await writeFile(join(folder, 'rig.json'), JSON.stringify(RIG));
    const inspected = await peakMemoryOf([
      'inspect',
      file,
      '--rig',
      join(folder, 'rig.json'),
      '--campaign',
      join(folder, 'c.gpkg'),
      '--quiet',
    ]);
    progress(`inspected: ${mebi(inspected.bytes)} MiB, exit code ${inspected.code}`);
    return pageOf({
      seconds,
      outcome,
      full,
      eventsAlike,
      kept: kept.size,
      ofGlows: ofGlows.size,
      lost,
      compared,
      different,
      rows,
      recordBytes: most,
      inspected,
    });
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
};

interface Measured {
  readonly seconds: number;
  readonly outcome: RecordOutcome;
  readonly full: RecordOutcome;
  readonly eventsAlike: boolean;
  readonly kept: number;
  readonly ofGlows: number;
  readonly lost: number;
  readonly compared: number;
  readonly different: number;
  readonly rows: readonly { rate: number; lit: number; litKept: number; seen: number; all: number }[];
  readonly recordBytes: number;
  readonly inspected: { readonly bytes: number; readonly code: number | null; readonly seconds: number };
}

function pageOf(m: Measured): Awaited<ReturnType<Study>> {
  const { uv, colour } = m.outcome.totals;
  const minutes = (m.seconds / 60).toFixed(0);
  const fates = (['uv', 'colour'] as const).flatMap((stream) =>
    Object.entries(m.outcome.totals[stream].fates).map(([fate, n]) => `| ${stream} | ${fate} | ${n} |`),
  );
  const lostEvents = m.eventsAlike ? 'no event lost' : 'the lists of events DIFFER';
  return {
    title: 'Recorder',
    headline: `${minutes} minutes recorded: ${percent(m.kept / uv.arrived)} of the uv images and ${percent(m.outcome.bytesOut / m.full.bytesOut)} of the bytes of a full recording kept, ${lostEvents}, ${m.lost} of ${m.ofGlows} images around glows lost; ${mebi(m.recordBytes)} MiB to record, ${mebi(m.inspected.bytes)} MiB to inspect.`,
    markdown: `An invented stream of ${minutes} minutes at ${FRAMES_PER_S} frames a second: ${WIDTH_PX} x ${HEIGHT_PX} pixels of 8 bit, read noise 1.2 DN over a pattern of columns,
${BACKGROUND_PER_FRAME} background events a frame of ${MEAN_CHARGE_DN} DN on average, and ${m.rows.reduce((sum, row) => sum + row.all, 0)} sources that cross the picture at ${SPEED_PX_PER_FRAME} px a frame. It is recorded twice by the
recorder: as usual, and with every image kept. Each frame can be made again from the seed, so that images are compared with what the camera gave.

## What is kept

| | recorded | in full |
|---|---|---|
| uv frames that came in | ${uv.arrived} | ${m.full.totals.uv.arrived} |
| with their events in the file | ${m.outcome.uvFramesWithEvents} | ${m.full.uvFramesWithEvents} |
| photon events | ${m.outcome.photonEvents} | ${m.full.photonEvents} |
| uv images | ${m.kept} | ${m.full.totals.uv.arrived} |
| bytes of the file | ${m.outcome.bytesOut} | ${m.full.bytesOut} |

Share of the bytes: **${percent(m.outcome.bytesOut / m.full.bytesOut)}**; of the uv images: **${percent(m.kept / uv.arrived)}**. The share of images does not depend on the size of a frame; that of bytes falls
with larger frames towards that of the images, since events, poses and ledger then weigh less.

The events of both files, all columns: **${m.eventsAlike ? 'the same, to the bit' : 'NOT the same'}**. Images within ${RECORDER_DEFAULTS.preRollS} s before and ${RECORDER_DEFAULTS.postRollS} s after a glow, as the trigger finds glows
in the events of the full recording: ${m.ofGlows}, of which **${m.lost}** are not in the file. Of the images kept, every 97th was compared with the full recording and with the
frame made again: ${m.compared} compared, **${m.different}** different.

| fate | | frames |
|---|---|---|
${fates.join('\n')}

Every frame has one: ${uv.arrived} uv and ${colour.arrived} colour frames came in, and the fates add up to as many.

## What counts as a glow

| events a frame | sources | seen as a glow | frames with light of theirs | of these kept |
|---|---|---|---|---|
${m.rows.map(({ rate, all, seen, lit, litKept }) => `| ${rate} | ${all} | ${seen} | ${lit} | ${percent(litKept / Math.max(1, lit))} |`).join('\n')}

${m.outcome.glows} glows in all, ${RECORDER_DEFAULTS.falseGlowsPerHour} false ones an hour being allowed. A source that is no glow keeps its events all the same, and the search in space finds it from those.

## Memory

Peak resident memory: **${mebi(m.recordBytes)} MiB** while recording (this study's own frames and its compiler included), **${mebi(m.inspected.bytes)} MiB** for \`corposant inspect\` on the recording in a
process of its own (${m.inspected.seconds.toFixed(0)} s, exit code ${m.inspected.code}). The recorder holds nothing
that grows with the flight; frames of 1280 x 1024 add the pre-roll of ${RECORDER_DEFAULTS.preRollS} s, 66 MB, and some 50 MB of maps. An inspection holds the list of events: here ${m.outcome.photonEvents} of them, ${(m.outcome.photonEvents / uv.arrived).toFixed(1)} a frame.
`,
  };
}
