/**
 * What becomes of photons between the sensor and a rate: how many are found and how many of those found were, how well their
 * places are known, and whether one glow is counted right from one photon in twenty frames to thousands in each.
 */
import { idealLens } from '../../src/camera/Lens.ts';
import { estimatePhotonRate, eventsPerPhotonAt } from '../../src/grade/estimatePhotonRate.ts';
import { countSource, eventsByFrame } from '../../src/jobs/inspect/countSource.ts';
import { type SingleEvents, singleEvents } from '../../src/jobs/inspect/singleEvents.ts';
import { normalCdf, poissonTail } from '../../src/maths/distributions.ts';
import { type Random, randomFrom } from '../../src/maths/random.ts';
import { NOT_A_PHOTON, type PhotonEvents } from '../../src/photon/PhotonEvents.ts';
import { PhotonEventsBuilder } from '../../src/photon/PhotonEventsBuilder.ts';
import { startPhotonFinder } from '../../src/photon/photonFinder.ts';
import { wilsonInterval } from '../../src/sighting/detectionCurve.ts';
import { type InventedRoom, type InventedSpot, PULSE_SPREAD, pulseDn, startRoom } from './inventedRoom.ts';
import { isTimeUp, NotYetDone, piece } from './pieces.ts';
import type { Study } from './Study.ts';

const ROOM: InventedRoom = {
  widthPx: 128,
  heightPx: 96,
  bitDepth: 8,
  saturationLevel: 255,
  spotSigmaPx: 1.3,
  readNoiseDn: 1.2,
  offsetDn: 12,
  afterglowShare: 0.05,
};
/** The same camera with 16 bit, eight of its steps to one of the other's. */
const ROOM_16: InventedRoom = { ...ROOM, bitDepth: 16, saturationLevel: 65535, readNoiseDn: 9.6, offsetDn: 96 };
const WARM_UP = 64;

const cameraOf = (room: InventedRoom, chargeDn: number) => ({
  ...room,
  gainCurve: [{ gain: 1, meanChargeDn: chargeDn }],
});

type Spots = readonly InventedSpot[];

/**
 * The events of invented exposures; the dark level is learned from `WARM_UP` frames before them, without light, and the afterglow
 * from so many frames of background, as in a flight that comes to a glow.
 */
function eventsFrom(
  room: InventedRoom,
  meanDn: number,
  random: Random,
  frames: number,
  spotsOf: (frame: number) => Spots,
  backgroundFrames = 0,
): { events: PhotonEvents; afterglowShare: number } {
  const render = startRoom(room, random);
  const finder = startPhotonFinder(cameraOf(room, meanDn));
  finder.learnFrom(Array.from({ length: WARM_UP }, () => render([])));
  const before = new PhotonEventsBuilder();
  for (let k = -backgroundFrames; k < 0; k++)
    finder.addInto(before, render(anywhere(random, room, 1.5, meanDn)), { frame: k, tNs: k * 20e6, gain: 1 });
  const events = new PhotonEventsBuilder();
  for (let k = 0; k < frames; k++) finder.addInto(events, render(spotsOf(k)), { frame: k, tNs: k * 20e6, gain: 1 });
  return { events: events.finish(), afterglowShare: finder.statistics().afterglowShare };
}

const anywhere = (random: Random, room: InventedRoom, mean: number, meanDn: number): InventedSpot[] =>
  Array.from({ length: random.poisson(mean) }, () => ({
    xPx: 5 + (room.widthPx - 11) * random.uniform(),
    yPx: 5 + (room.heightPx - 11) * random.uniform(),
    chargeDn: pulseDn(random, meanDn),
  }));

interface FoundAtGain {
  readonly meanDn: number;
  readonly photons: number;
  readonly found: number;
  readonly events: number;
  readonly true: number;
}

/** Completeness and purity at one gain: 2 photons a frame, an event and a photon being one within 2.5 px. */
function findAtGain(meanDn: number, frames: number, seed: number): FoundAtGain {
  const random = randomFrom(seed);
  const truth: InventedSpot[][] = [];
  const { events } = eventsFrom(ROOM, meanDn, random, frames, () => {
    truth.push(anywhere(random, ROOM, 2, meanDn));
    return truth[truth.length - 1];
  });
  let found = 0;
  let all = 0;
  for (let k = 0, row = 0; k < frames; k++) {
    const free = [...truth[k]];
    for (; row < events.count && events.frame[row] === k; row++) {
      if ((events.flags[row] & NOT_A_PHOTON) !== 0) continue;
      all++;
      const at = free.findIndex((s) => Math.hypot(s.xPx - events.xPx[row], s.yPx - events.yPx[row]) < 2.5);
      if (at < 0) continue;
      found++;
      free.splice(at, 1);
    }
  }
  return { meanDn, photons: truth.flat().length, found, events: all, true: found };
}

interface PlacedAtCharge {
  readonly chargeDn: number;
  readonly events: number;
  /** Root mean square error on an axis, px, and the bound. */
  readonly rmsPx: number;
  readonly boundPx: number;
  /** Mean square of error over stated sigma. */
  readonly pull2: number;
}

/** Error of place for photons of one charge. Afterglow is left out: the bound knows of none. */
function placeAtCharge(chargeDn: number, frames: number, seed: number): PlacedAtCharge {
  const random = randomFrom(seed);
  const room = { ...ROOM, afterglowShare: 0 };
  const truth: InventedSpot[] = [];
  const { events } = eventsFrom(room, 120, random, frames, () => {
    truth.push({ xPx: 40 + 20 * random.uniform(), yPx: 40 + 20 * random.uniform(), chargeDn });
    return [truth[truth.length - 1]];
  });
  let squares = 0;
  let pulls = 0;
  let bounds = 0;
  let n = 0;
  for (let row = 0; row < events.count; row++) {
    const spot = truth[events.frame[row]];
    const e2 = (events.xPx[row] - spot.xPx) ** 2 + (events.yPx[row] - spot.yPx) ** 2;
    if (e2 > 9) continue;
    n++;
    squares += e2 / 2;
    pulls += e2 / 2 / events.sigmaPx[row] ** 2;
    bounds += boundPx(spot, room) ** 2;
  }
  return { chargeDn, events: n, rmsPx: Math.sqrt(squares / n), boundPx: Math.sqrt(bounds / n), pull2: pulls / n };
}

/**
 * Cramér-Rao bound of a place on an axis, mean of both, px: Fisher information of place and charge for a spot of known size, pixel
 * by pixel, in white noise of reading and rounding. Source: Mortensen et al., Nat. Methods 7 (2010) 377, without shot noise,
 * since the charge of one photon is one pulse of the intensifier.
 */
function boundPx({ xPx, yPx, chargeDn }: InventedSpot, { spotSigmaPx: s, readNoiseDn }: InventedRoom): number {
  const variance = readNoiseDn ** 2 + 1 / 12;
  const F = new Float64Array(9);
  const share = (pixel: number, at: number): number =>
    normalCdf((pixel + 0.5 - at) / s) - normalCdf((pixel - 0.5 - at) / s);
  const slope = (pixel: number, at: number): number => (share(pixel, at + 1e-4) - share(pixel, at - 1e-4)) / 2e-4;
  for (let y = Math.round(yPx) - 7; y <= Math.round(yPx) + 7; y++)
    for (let x = Math.round(xPx) - 7; x <= Math.round(xPx) + 7; x++) {
      const [gx, gy] = [share(x, xPx), share(y, yPx)];
      const d = [chargeDn * slope(x, xPx) * gy, chargeDn * gx * slope(y, yPx), gx * gy];
      for (let a = 0; a < 3; a++) for (let b = 0; b < 3; b++) F[3 * a + b] += (d[a] * d[b]) / variance;
    }
  const [a, b, c, , e, f, , , i] = F;
  const det = a * (e * i - f * f) - b * (b * i - f * c) + c * (b * f - e * c);
  return Math.sqrt(((e * i - f * f) / det + (a * i - c * c) / det) / 2);
}

/** A camera, and a glow that rests in the image or runs through it. */
interface GlowSetting {
  readonly name: string;
  readonly room: InventedRoom;
  readonly meanDn: number;
  /** Way of the glow through the image, px a frame. */
  readonly pxPerFrame: number;
  readonly photonsPerFrame: readonly number[];
}

interface CountedGlow {
  readonly photonsPerFrame: number;
  readonly runs: number;
  readonly frames: number;
  /** Mean over runs of estimate over the photons that were in fact drawn, and its standard error. */
  readonly ratio: number;
  readonly ratioSigma: number;
  /** Runs whose 95 % interval holds the mean rate. */
  readonly covered: number;
  /** Share of the runs' figures that came from charge, mean. */
  readonly byCharge: number;
}

const LENS_BLUR_PX = 0.9;
/** Background events a frame around the glow: few, so that they do not hide a bias. */
const BACKGROUND = 0.05;
const FOCAL_PX = 1000;
const RANGE_M = 40;
/** A whole cycle of the mains, so that its phase plays no part. */
const EXPOSURE_S = 0.02;
/** Seen before the glow comes: 900 single photons. */
const BACKGROUND_FRAMES = 600;
const CONDITIONS = {
  apertureMm: 50,
  bandNm: [240, 280] as const,
  eventsPerPhoton: 0.1,
  eventsPerPhotonRelativeSigma: 0,
  extinctionPerKm: 0,
  extinctionSigmaPerKm: 0,
  rangeSigmaM: 0,
  mainsHz: 50,
  frameRateHz: 50,
};

/** What single events are worth, from a stretch of background. */
function singlesOf(room: InventedRoom, meanDn: number, seed: number): SingleEvents & { afterglowShare: number } {
  const random = randomFrom(seed);
  const { events, afterglowShare } = eventsFrom(room, meanDn, random, 4000, () => anywhere(random, room, 4, meanDn));
  const single = singleEvents(
    events,
    () => 1,
    () => meanDn,
    new Set(),
  );
  return { ...single, meanCharge: (gain) => single.meanCharge(gain), afterglowShare };
}

function countGlow(
  setting: GlowSetting,
  single: SingleEvents & { afterglowShare: number },
  photonsPerFrame: number,
  runs: number,
  framesInRun: number,
  seed: number,
): CountedGlow {
  const room = { ...setting.room, widthPx: setting.pxPerFrame > 0 ? 240 : 96, heightPx: 80 };
  const lens = idealLens(room.widthPx, room.heightPx, FOCAL_PX);
  const random = randomFrom(seed);
  const frames = runs * framesInRun;
  // Passes through the picture one after the other; the first and last place are 24 px from its border.
  const inPass = setting.pxPerFrame > 0 ? Math.floor((room.widthPx - 48) / setting.pxPerFrame) : frames;
  const placeOf = (frame: number): number =>
    setting.pxPerFrame > 0 ? 24 + setting.pxPerFrame * (frame % inPass) : room.widthPx / 2 + 0.3;
  const yPx = room.heightPx / 2 + 0.2;
  const drawn: number[] = [];
  const { events } = eventsFrom(
    room,
    setting.meanDn,
    random,
    frames,
    (k) => {
      const n = random.poisson(photonsPerFrame);
      drawn.push(n);
      return [
        ...Array.from({ length: n }, () => ({
          xPx:
            placeOf(k) +
            setting.pxPerFrame * (EXPOSURE_S / 0.02) * (random.uniform() - 0.5) +
            LENS_BLUR_PX * random.normal(),
          yPx: yPx + LENS_BLUR_PX * random.normal(),
          chargeDn: pulseDn(random, setting.meanDn),
        })),
        ...anywhere(random, room, BACKGROUND, setting.meanDn),
      ];
    },
    BACKGROUND_FRAMES,
  );
  const poses = {
    count: frames,
    frame: Int32Array.from({ length: frames }, (_, k) => k),
    tNs: Float64Array.from({ length: frames }, (_, k) => k * 20e6),
    exposureNs: new Float64Array(frames).fill(EXPOSURE_S * 1e9),
    originEnuM: new Float64Array(3 * frames),
    uvFromEnu: new Float64Array(9 * frames),
  };
  const metresPerPx = RANGE_M / FOCAL_PX;
  for (let k = 0; k < frames; k++) {
    poses.originEnuM[3 * k] = -(placeOf(k) - lens.cxPx) * metresPerPx;
    for (let c = 0; c < 3; c++) poses.uvFromEnu[9 * k + 4 * c] = 1;
  }
  const byFrame = eventsByFrame(events, frames);
  const place = [0, (yPx - lens.cyPx) * metresPerPx, RANGE_M] as const;
  const backgroundPerPx = BACKGROUND / (room.widthPx * room.heightPx);
  let [sum, squares, covered, byCharge] = [0, 0, 0, 0];
  for (let run = 0; run < runs; run++) {
    const [from, to] = [run * framesInRun, (run + 1) * framesInRun - 1];

    const used: number[] = [];
    for (let k = from; k <= to; k++) if (k % inPass >= 4 && k % inPass !== inPass - 1) used.push(k);
    const observation = countSource(
      byFrame,
      () => 1,
      place,
      used.map((k) => ({ fromNs: k * 20e6, toNs: k * 20e6, offsetPx: [0, 0] as const })),
      poses,
      lens,
      Math.hypot(LENS_BLUR_PX, 0.5),
      backgroundPerPx,
      single,
      { share: single.afterglowShare, spotSigmaPx: room.spotSigmaPx },
    );
    if (!observation) throw new Error('the glow is nowhere clear of the border');
    const rate = estimatePhotonRate(observation, { ...CONDITIONS, singleChargeRelativeSigma: single.relativeSigma });
    const perHz = EXPOSURE_S * observation.rangeM.reduce((s, r) => s + eventsPerPhotonAt(r, CONDITIONS), 0);
    const actual = used.reduce((s, k) => s + drawn[k], 0);
    const expected = photonsPerFrame * used.length;
    // Against what was drawn, so that the scatter of the light itself does not hide a bias.
    const ratio = (rate.rateHz * perHz - actual) / expected;
    sum += ratio;
    squares += ratio * ratio;
    const { lower, upper } = rate.interval;
    if (lower * perHz <= expected && expected <= upper * perHz) covered++;
    byCharge += rate.notes.some((note) => note.includes('overlap')) ? 1 : 0;
  }
  const mean = sum / runs;
  return {
    photonsPerFrame,
    runs,
    frames,
    ratio: 1 + mean,
    ratioSigma: Math.sqrt(Math.max(0, squares / runs - mean * mean) / runs),
    covered,
    byCharge: byCharge / runs,
  };
}

const GLOWS: readonly GlowSetting[] = [
  {
    name: '16 bit, at rest',
    room: ROOM_16,
    meanDn: 960,
    pxPerFrame: 0,
    photonsPerFrame: [0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000],
  },
  {
    name: '16 bit, 12 px a frame',
    room: ROOM_16,
    meanDn: 960,
    pxPerFrame: 12,
    photonsPerFrame: [0.1, 1, 5, 20, 100, 1000, 5000],
  },
  { name: '8 bit, at rest', room: ROOM, meanDn: 120, pxPerFrame: 0, photonsPerFrame: [0.1, 1, 5, 20, 100, 200, 500] },
];
/** Mean charges, DN, at a read noise of 1.2 DN a pixel. */
const GAINS_DN = [30, 60, 120, 240, 480];
const CHARGES_DN = [40, 60, 100, 200, 400];

/** Runs at so many photons a frame, and the frames of each: about as exact everywhere, in bearable time. */
const effortAt = (photons: number): readonly [runs: number, frames: number] =>
  photons < 0.3
    ? [200, 100]
    : photons <= 1
      ? [120, 60]
      : photons <= 5
        ? [60, 60]
        : photons <= 100
          ? [40, 30]
          : [40, 12];

const percent = (p: number): string => `${(100 * p).toFixed(1)} %`;

export const study: Study = ({ firstSeed = 1, progress }) => {
  const work = <T>(name: string, make: () => T): T =>
    piece(`photons ${firstSeed} ${name}`, () => {
      if (isTimeUp()) throw new NotYetDone('the time for this run is used up; run again to go on');
      progress(name);
      return make();
    });
  const gains = GAINS_DN.map((dn, i) => work(`gain ${dn}`, () => findAtGain(dn, 1500, 1000 * firstSeed + i)));
  const places = CHARGES_DN.map((dn, i) =>
    work(`charge ${dn}`, () => placeAtCharge(dn, 1500, 1000 * firstSeed + 100 + i)),
  );
  const missing: string[] = [];
  const glows = GLOWS.flatMap((setting, g) => {
    let single: ReturnType<typeof singlesOf> | null = null;
    return setting.photonsPerFrame.flatMap((photons, i) => {
      try {
        const counted = work(`${setting.name}, ${photons}`, () => {
          single ??= singlesOf(setting.room, setting.meanDn, 1000 * firstSeed + 200 + g);
          return countGlow(setting, single, photons, ...effortAt(photons), 1000 * firstSeed + 300 + 50 * g + i);
        });
        return [{ setting, ...counted }];
      } catch (error) {
        // A page of what is done so far was asked for.
        if (!(error instanceof NotYetDone) || !process.env.CORPOSANT_STUDY_PARTIAL) throw error;
        missing.push(`${setting.name}, ${photons}`);
        return [];
      }
    });
  });
  const worst = Math.max(...places.map(({ rmsPx, boundPx }) => rmsPx / boundPx));
  const resting = glows.filter(({ setting }) => setting === GLOWS[0]);
  const farthestOf = (of: typeof glows): (typeof glows)[number] =>
    of.reduce((a, b) => (Math.abs(b.ratio - 1) > Math.abs(a.ratio - 1) ? b : a));
  const farthest = farthestOf(resting);
  const moving = glows.filter(({ setting }) => setting === GLOWS[1]);
  const farthestMoving = moving.length > 0 ? `${farthestOf(moving).ratio.toFixed(3)} at worst` : 'not measured yet';
  return {
    title: 'Photons',
    headline: `Places of events at ${worst.toFixed(2)} times the Cramér-Rao bound at most; photons of one resting glow (16 bit, 0.05 to 5,000 a frame) at ${farthest.ratio.toFixed(3)} ± ${farthest.ratioSigma.toFixed(3)} of the truth at worst, of one that moves 12 px a frame ${farthestMoving}.`,
    markdown: [
      'Frames of an invented camera (scripts/studies/inventedRoom.ts): spots of 1.3 px, read noise of 1.2 DN at 8 bit, gamma pulses of a',
      'relative spread of 0.6, 5 % of the light again in the next frame; the dark level is learned from 64 frames.',
      '',
      '## Completeness and purity',
      '',
      'Two photons a frame of 128 x 96 px; found: an event that counts as a photon within 2.5 px. Pulses above the threshold: the share of',
      'the pulse heights above five standard deviations of the filtered noise, which no finder with this threshold can exceed by much.',
      '',
      '| mean charge, DN | of the read noise | photons | found | 95 % interval | pulses above the threshold | events that are photons | 95 % interval |',
      '|---|---|---|---|---|---|---|---|',
      ...gains.map((g) => {
        const complete = wilsonInterval(g.found, g.photons);
        const pure = wilsonInterval(g.true, g.events);
        const cut = 5 * Math.sqrt(4 * Math.PI) * 1.3 * Math.hypot(1.2, Math.sqrt(1 / 12));
        const shape = 1 / PULSE_SPREAD ** 2;
        return `| ${g.meanDn} | ${(g.meanDn / 1.2).toFixed(0)} | ${g.photons} | ${percent(g.found / g.photons)} | ${percent(complete[0])} to ${percent(complete[1])} | ${percent(1 - poissonTail(shape, (cut * shape) / g.meanDn))} | ${percent(g.true / g.events)} | ${percent(pure[0])} to ${percent(pure[1])} |`;
      }),
      '',
      '## Place',
      '',
      'One photon a frame of a fixed charge. Bound: Fisher information of place and charge for a spot of known size in white noise, pixel',
      'by pixel. Pull: mean square of error over stated sigma.',
      '',
      '| charge, DN | events | error on an axis, px | bound, px | error over bound | pull |',
      '|---|---|---|---|---|---|',
      ...places.map(
        (p) =>
          `| ${p.chargeDn} | ${p.events} | ${p.rmsPx.toFixed(4)} | ${p.boundPx.toFixed(4)} | ${(p.rmsPx / p.boundPx).toFixed(3)} | ${p.pull2.toFixed(2)} |`,
      ),
      '',
      '## One glow',
      '',
      ...(missing.length > 0 ? [`Not measured yet: ${missing.join('; ')}.`, ''] : []),
      'Estimate over the photons that were in fact drawn, mean over runs with its standard error; how many 95 % intervals hold the',
      'mean rate (counting, and the mean charge of a photon; range, air and optics are known here). The mean charge of a photon and the afterglow are measured on a stretch of background before.',
      '',
      '| camera | photons a frame | runs | estimate / truth | intervals that hold | by charge |',
      '|---|---|---|---|---|---|',
      ...glows.map(
        (g) =>
          `| ${g.setting.name} | ${g.photonsPerFrame} | ${g.runs} | ${g.ratio.toFixed(3)} ± ${g.ratioSigma.toFixed(3)} | ${g.covered} of ${g.runs} | ${percent(g.byCharge)} |`,
      ),
    ].join('\n'),
  };
};
