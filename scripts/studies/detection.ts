/**
 * How weak a source the search in space still finds, and how often chance fools it: fly-pasts drawn event by event.
 * Beside it what a known place and plain counting allow, and what a threshold on single frames would find. Results of
 * `studyFalseAlarms` and `studyPasses` are plain values, so that a long study can be run in pieces and put together by
 * `detectionSection`.
 */
import { poissonTail } from '../../src/maths/distributions.ts';
import { garwoodInterval } from '../../src/maths/poissonInterval.ts';
import { type Random, randomFrom } from '../../src/maths/random.ts';
import { distance } from '../../src/maths/vec3.ts';
import { wilsonInterval } from '../../src/sighting/detectionCurve.ts';
import { backgroundBut, extractSources, nothingExplained } from '../../src/sighting/extractSources.ts';
import { thresholdFor } from '../../src/sighting/falseAlarmLaw.ts';
import { findSightings } from '../../src/sighting/findSightings.ts';
import { type FlownPast, type FlyPastSource, flyPast, LINE_CORRIDOR } from '../../src/sighting/flyPast.fixture.ts';
import { hoursOf, lawOfChance } from '../../src/sighting/lawOfChance.ts';
import { fitFlux, passOf } from '../../src/sighting/pointSource.ts';
import { layOutScene, type SearchScene } from '../../src/sighting/SearchScene.ts';
import { suspicionsOf } from '../../src/sighting/suspicions.ts';

/** A camera, its background, and how the sources shine. */
export interface DetectionSetting {
  readonly name: string;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly backgroundPerFrame: number;
  readonly exposureMs: number;
  /** Mean size of the bunches in which events come; 1 = Poisson. */
  readonly bunch: number;
  /** Light of one half-wave of the mains alone, near its peak; steady where missing. */
  readonly mainsHz?: number;
}

export interface FalseAlarmStudy {
  readonly setting: DetectionSetting;
  /** ln likelihood ratio for one false alarm an hour, as measured on flights of the same kind. */
  readonly thresholds: readonly number[];
  readonly hours: number;
  readonly falseAlarms: number;
}

export interface PassStudy {
  readonly setting: DetectionSetting;
  readonly eventsPerFrame: number;
  readonly passes: number;
  readonly found: number;
  /** Passes in which the true place, known beforehand, reaches the same threshold on the same events. */
  readonly foundAtKnownPlace: number;
}

/** As the camera of the fly-past sees: 36 degrees across, one blur whatever the pixels, 100 frames across the picture. */
const FRAMES_IN_VIEW = 100;
const RANGE_M = 40;
const FRAMES_PER_S = 50;
const BLUR_PX = 0.9;
/** Length of one source-free piece: as long as a flight between two turns. */
const PIECE_S = 90;

const focalOf = (setting: DetectionSetting): number => (setting.widthPx / 640) * 1000;
/** Speed that takes a place at this range across the picture in 100 frames. */
const speedOf = (setting: DetectionSetting, rangeM: number): number =>
  (setting.widthPx / focalOf(setting)) * rangeM * (FRAMES_PER_S / FRAMES_IN_VIEW);

function fly(
  random: Random,
  setting: DetectionSetting,
  frames: number,
  rangeM: number,
  sources: FlyPastSource[],
): FlownPast {
  return flyPast(random, {
    frames,
    backgroundPerFrame: setting.backgroundPerFrame,
    sources,
    widthPx: setting.widthPx,
    heightPx: setting.heightPx,
    focalPx: focalOf(setting),
    speedMps: speedOf(setting, rangeM),
    exposureMs: setting.exposureMs,
    blurPx: BLUR_PX,
  });
}

const sceneOf = (flown: FlownPast): SearchScene => layOutScene(flown.events, flown.rays, flown.poses, flown.lens, 0.3);

/**
 * False alarms over source-free flight at one allowed an hour. Thresholds are measured on `calibrations` flights of their
 * own, as an inspection does, and taken in turn. The searches for what is certain (ratios of 30 and more, which chance does
 * not reach) are left out, all else is as in an inspection.
 */
export function studyFalseAlarms(
  setting: DetectionSetting,
  of: { readonly hours: number; readonly calibrations: number; readonly seed: number },
): FalseAlarmStudy {
  const frames = PIECE_S * FRAMES_PER_S;
  const thresholds: number[] = [];
  for (let i = 0; i < of.calibrations; i++) {
    const seed = of.seed * 100_000 + 50_000 + i;
    const scene = sceneOf(fly(randomFrom(seed), setting, frames, RANGE_M, []));
    const law = lawOfChance(scene, new Float64Array(scene.count).fill(1), {
      corridor: LINE_CORRIDOR,
      seed,
      hours: hoursOf(scene),
    });
    thresholds.push(thresholdFor(law, 1));
  }
  const pieces = Math.max(1, Math.round((of.hours * 3600) / PIECE_S));
  let falseAlarms = 0;
  for (let i = 0; i < pieces; i++) {
    const scene = sceneOf(fly(randomFrom(of.seed * 100_000 + i), setting, frames, RANGE_M, []));
    const explanation = nothingExplained(scene);
    const found = extractSources(scene, explanation, {
      corridor: LINE_CORRIDOR,
      floor: thresholds[i % thresholds.length],
    });
    falseAlarms += found.filter(
      (source) =>
        suspicionsOf(source, scene, LINE_CORRIDOR, backgroundBut(explanation, source), undefined).length === 0,
    ).length;
  }
  return { setting, thresholds, hours: (pieces * PIECE_S) / 3600, falseAlarms };
}

/**
 * Passes over a source at a place of its own in the corridor, each with its own background, 100 frames in view. Counted as
 * found where a sighting without suspicion lies within a metre along the line and up, and two in range.
 */
export function studyPasses(
  setting: DetectionSetting,
  thresholds: readonly number[],
  of: { readonly eventsPerFrame: number; readonly passes: number; readonly seed: number },
): PassStudy {
  let found = 0;
  let foundAtKnownPlace = 0;
  const frames = 2 * FRAMES_IN_VIEW;
  for (let i = 0; i < of.passes; i++) {
    const random = randomFrom(of.seed * 1_000_000 + Math.round(of.eventsPerFrame * 10_000) * 1000 + i);
    const rangeM = RANGE_M + 8 * (random.uniform() - 0.5);
    const alongM = (frames / 2 / FRAMES_PER_S) * speedOf(setting, rangeM);
    const atEnuM = [alongM + 2 * (random.uniform() - 0.5), rangeM, 8 * (random.uniform() - 0.5)] as const;
    const flown = fly(random, setting, frames, rangeM, [
      {
        atEnuM,
        perFrame: of.eventsPerFrame,
        bunch: setting.bunch,
        flicker: setting.mainsHz === undefined ? undefined : halfWave(setting.mainsHz, random.uniform()),
      },
    ]);
    const threshold = thresholds[i % thresholds.length];
    const { sightings } = findSightings({
      ...flown,
      corridor: LINE_CORRIDOR,
      falseAlarmsPerHour: 1,
      seed: i,
      atLeastRatio: threshold,
    });
    if (
      sightings.some(
        ({ seedEnuM: [e, n, u], suspicions }) =>
          suspicions.length === 0 && distance([e, 0, u], [atEnuM[0], 0, atEnuM[2]]) < 1 && Math.abs(n - atEnuM[1]) < 2,
      )
    )
      found++;
    const scene = sceneOf(flown);
    const even = setting.backgroundPerFrame / (setting.widthPx * setting.heightPx);
    const background = new Float64Array(scene.count).fill(even);
    const known = fitFlux(scene, background, atEnuM, passOf(scene, atEnuM, frames / 2));
    if (known.logLikelihoodRatio >= threshold) foundAtKnownPlace++;
  }
  return { setting, eventsPerFrame: of.eventsPerFrame, passes: of.passes, found, foundAtKnownPlace };
}

/** Light that follows the eighth power of one half-wave, so that half of it lies within 2.4 ms; its mean is 1. */
function halfWave(mainsHz: number, phase: number): { at: (seconds: number) => number; most: number } {
  const most = 256 / 35; // the mean of sin^8 over one half of the period, none over the other, is 35 / 256
  return {
    most,
    at: (seconds) => most * Math.max(0, Math.sin(2 * Math.PI * (mainsHz * seconds + phase))) ** 8,
  };
}

/** Two sigmas about the way of a point during the exposure, px². */
function aperturePx2(setting: DetectionSetting): number {
  const smearPx = (setting.widthPx / FRAMES_IN_VIEW) * ((setting.exposureMs / 1000) * FRAMES_PER_S);
  return Math.PI * 4 * BLUR_PX ** 2 + 4 * BLUR_PX * smearPx;
}

/**
 * What counting in an aperture allows at one false alarm an hour: n events within two sigmas of a place followed through its
 * pass (about 90 % of the source's), n so large that the independent places of an hour reach it once by chance. Places:
 * apertures in the picture, times ranges told apart by the parallax of a pass, times passes in an hour.
 */
function apertureCount(setting: DetectionSetting, eventsPerFrame: number): number {
  const { widthPx, heightPx, backgroundPerFrame } = setting;
  const area = aperturePx2(setting);
  const mean = (backgroundPerFrame * FRAMES_IN_VIEW * area) / (widthPx * heightPx);
  const ranges = Math.max(1, (widthPx * 2 * LINE_CORRIDOR.radiusM) / RANGE_M / (2 * BLUR_PX));
  const places = ((widthPx * heightPx) / area) * ranges * ((3600 * FRAMES_PER_S) / FRAMES_IN_VIEW);
  let n = 1;
  while (places * poissonTail(n, mean) > 1) n++;
  return poissonTail(n, 0.9 * eventsPerFrame * FRAMES_IN_VIEW + mean);
}

/** The same with single frames: n events of one frame within an aperture, once an hour by chance, in any frame of the pass. */
function singleFrame(setting: DetectionSetting, eventsPerFrame: number): number {
  const { widthPx, heightPx, backgroundPerFrame } = setting;
  const area = aperturePx2(setting);
  const mean = (backgroundPerFrame * area) / (widthPx * heightPx);
  const places = ((widthPx * heightPx) / area) * 3600 * FRAMES_PER_S;
  let n = 1;
  while (places * poissonTail(n, mean) > 1) n++;
  return 1 - (1 - poissonTail(n, 0.9 * eventsPerFrame + mean)) ** FRAMES_IN_VIEW;
}

/** The settings of the page: two cameras, ten times the background, bunches, exposures, the mains. */
export const DETECTION_SETTINGS: readonly DetectionSetting[] = [
  { name: '640 x 512', widthPx: 640, heightPx: 512 },
  { name: '1280 x 1024', widthPx: 1280, heightPx: 1024 },
  { name: '640 x 512, ten times the background', widthPx: 640, heightPx: 512, backgroundPerFrame: 50 },
  { name: 'bunches of 2 events', widthPx: 640, heightPx: 512, bunch: 2 },
  { name: 'bunches of 4 events', widthPx: 640, heightPx: 512, bunch: 4 },
  { name: 'exposure 2 ms', widthPx: 640, heightPx: 512, exposureMs: 2 },
  { name: 'exposure 10 ms', widthPx: 640, heightPx: 512, exposureMs: 10 },
  { name: 'exposure 20 ms', widthPx: 640, heightPx: 512, exposureMs: 20 },
  ...[2, 10, 20].flatMap((exposureMs) =>
    [50, 50.1, 50.5].map((mainsHz) => ({
      name: `exposure ${exposureMs} ms, light of one half-wave, mains ${mainsHz} Hz`,
      widthPx: 640,
      heightPx: 512,
      exposureMs,
      mainsHz,
    })),
  ),
].map((setting) => ({ backgroundPerFrame: 5, exposureMs: 18, bunch: 1, ...setting }));

const percent = (p: number): string => `${(100 * p).toFixed(1)} %`;

/** The studies as a section in Markdown: settings in the order given, each with its threshold, false alarms and curve. */
export function detectionSection(falseAlarms: readonly FalseAlarmStudy[], passes: readonly PassStudy[]): string {
  const alarmRows = falseAlarms.map(({ setting, thresholds, hours, falseAlarms: n }) => {
    const mean = thresholds.reduce((sum, t) => sum + t, 0) / thresholds.length;
    const upper = garwoodInterval(n, 0.9).upper / hours;
    return `| ${setting.name} | ${mean.toFixed(1)} | ${hours.toFixed(1)} | ${n} | ${(n / hours).toFixed(2)} | ${upper.toFixed(2)} |`;
  });
  const passRows = passes.map((point) => {
    const { setting, eventsPerFrame, passes: n } = point;
    const [lower, upper] = wilsonInterval(point.found, n);
    return [
      '',
      setting.name,
      `1 in ${Number((1 / eventsPerFrame).toFixed(2))}`,
      String(n),
      percent(point.found / n),
      `${percent(lower)} to ${percent(upper)}`,
      percent(point.foundAtKnownPlace / n),
      percent(apertureCount(setting, eventsPerFrame)),
      percent(singleFrame(setting, eventsPerFrame)),
      '',
    ]
      .join(' | ')
      .trim();
  });
  return [
    '## Detection',
    '',
    'Fly-pasts drawn event by event: 100 frames in view, 50 frames a second, 36 degrees of view, a source at 36 to 44 m',
    'within a corridor of 6 m about the line, 0.9 px of scatter, 5 background events a frame and 18 ms of exposure where not',
    'said otherwise. One false alarm an hour is allowed; the threshold (ln likelihood ratio) is measured on flights of the',
    'same kind.',
    '',
    '| setting | threshold | source-free hours | false alarms | an hour | 95 % upper bound, one-sided |',
    '|---|---|---|---|---|---|',
    ...alarmRows,
    '',
    'Found: a sighting without suspicion at the right place. Known place: the likelihood at the true place, with the true',
    'background, reaches the same threshold on the same events; a search may do better, since its place is fitted. Counting:',
    'Poisson count in an aperture of two sigmas that follows the place, reaching what chance reaches once an hour anywhere.',
    'Single frames: the same with the events of one frame, in any frame of the pass.',
    '',
    '| setting | events a frame | passes | found | 95 % interval | known place | counting | single frames |',
    '|---|---|---|---|---|---|---|---|',
    ...passRows,
  ].join('\n');
}
