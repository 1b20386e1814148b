/**
 * How weak a source the search in space still finds, and how often chance fools it: fly-pasts drawn event by event.
 * Beside it what counting in a fixed aperture allows, and what a threshold on single frames would find.
 */
import { normalQuantile, poissonTail } from '../src/maths/distributions.ts';
import { garwoodInterval } from '../src/maths/poissonInterval.ts';
import { randomFrom } from '../src/maths/random.ts';
import { distance } from '../src/maths/vec3.ts';
import { findSightings } from '../src/sighting/findSightings.ts';
import { flyPast, LINE_CORRIDOR } from '../src/sighting/flyPast.fixture.ts';

export interface DetectionStudyOptions {
  /** Passes for each point of the curve. Default 200. */
  readonly passes?: number;
  /** Hours of source-free flight. Default 20. */
  readonly hours?: number;
  readonly seed?: number;
  readonly backgroundPerFrame?: number;
  readonly widthPx?: number;
  readonly heightPx?: number;
  /** Events expected over a pass, the points of the curve. */
  readonly eventsPerPass?: readonly number[];
  /** Mean size of the bunches in which events come; 1 = Poisson. */
  readonly bunch?: number;
  readonly onProgress?: (done: string) => void;
}

export interface DetectionPoint {
  readonly eventsPerPass: number;
  /** Mean over the frames in view. */
  readonly eventsPerFrame: number;
  readonly passes: number;
  readonly found: number;
  readonly probability: number;
  /** Wilson interval, 95 %. */
  readonly lower: number;
  readonly upper: number;
  /** Probability that a count within two sigmas of the place reaches what chance reaches once an hour anywhere. */
  readonly apertureCount: number;
  /** Probability that any frame of the pass has enough events at one place for a threshold on single frames. */
  readonly singleFrame: number;
}

export interface DetectionStudy {
  readonly threshold: number;
  readonly points: readonly DetectionPoint[];
  readonly sourceFree: {
    readonly hours: number;
    readonly falseAlarms: number;
    readonly perHour: number;
    /** Upper end of the central 95 % interval (Garwood 1936). */
    readonly upper95PerHour: number;
  };
}

const FRAMES_PER_S = 50;
const FOCAL_PX = 1000;
const RANGE_M = 40;
const SPEED_MPS = 15;
const BLUR_PX = 0.9;
const EXPOSURE_S = 0.018;
/** Length of one source-free piece: as long as a flight between two turns. */
const PIECE_S = 90;

/**
 * The table of `docs/accuracy.md`: detection probability against events in a pass at one false alarm an hour, with the
 * false alarms over source-free hours. Each pass has its own place in the corridor and its own background; the threshold
 * is that of a whole source-free flight of the same kind, as in a survey.
 */
export function studyDetection(options: DetectionStudyOptions = {}): DetectionStudy {
  const passes = options.passes ?? 200;
  const hours = options.hours ?? 20;
  const seed = options.seed ?? 1;
  const backgroundPerFrame = options.backgroundPerFrame ?? 5;
  const widthPx = options.widthPx ?? 640;
  const heightPx = options.heightPx ?? 512;
  const common = { backgroundPerFrame, widthPx, heightPx, focalPx: FOCAL_PX, blurPx: BLUR_PX };
  const search = { corridor: LINE_CORRIDOR, falseAlarmsPerHour: 1, seed };

  let falseAlarms = 0;
  const pieces = Math.max(1, Math.round((hours * 3600) / PIECE_S));
  let threshold = 0;
  for (let i = 0; i < pieces; i++) {
    const flown = flyPast(randomFrom(seed * 100_000 + i), { ...common, frames: PIECE_S * FRAMES_PER_S, sources: [] });
    const { sightings, searched } = findSightings({ ...flown, ...search, seed: seed * 100_000 + i });
    falseAlarms += sightings.filter((sighting) => sighting.suspicions.length === 0).length;
    threshold += searched.threshold / pieces;
    options.onProgress?.(`source-free flight ${i + 1} of ${pieces}`);
  }

  const framesInView = Math.round((widthPx / ((FOCAL_PX * SPEED_MPS) / RANGE_M)) * FRAMES_PER_S);
  const points = (options.eventsPerPass ?? [5, 6, 7, 8, 9, 10, 11, 12.5, 15, 20]).map((eventsPerPass) => {
    const perFrame = eventsPerPass / framesInView;
    let found = 0;
    for (let i = 0; i < passes; i++) {
      const random = randomFrom(seed * 1_000_000 + Math.round(eventsPerPass * 10) * 1000 + i);
      const middle = framesInView + 20;
      const atEnuM = [
        (middle / FRAMES_PER_S) * SPEED_MPS + 2 * random.uniform(),
        RANGE_M + 8 * (random.uniform() - 0.5),
        8 * (random.uniform() - 0.5),
      ] as const;
      const flown = flyPast(random, {
        ...common,
        frames: 2 * middle,
        sources: [{ atEnuM, perFrame, bunch: options.bunch ?? 1 }],
      });
      const { sightings } = findSightings({ ...flown, ...search, atLeastRatio: threshold });
      // As a user counts it: a clear sighting within a metre along the line and up, two in range.
      if (
        sightings.some(
          ({ seedEnuM: [e, n, u], suspicions }) =>
            suspicions.length === 0 &&
            distance([e, 0, u], [atEnuM[0], 0, atEnuM[2]]) < 1 &&
            Math.abs(n - atEnuM[1]) < 2,
        )
      )
        found++;
    }
    options.onProgress?.(`${eventsPerPass} events: ${found} of ${passes}`);
    const [lower, upper] = wilson(found, passes);
    return {
      eventsPerPass,
      eventsPerFrame: perFrame,
      passes,
      found,
      probability: found / passes,
      lower,
      upper,
      apertureCount: apertureCount(eventsPerPass, backgroundPerFrame, widthPx, heightPx, framesInView),
      singleFrame: singleFrame(perFrame, backgroundPerFrame, widthPx, heightPx, framesInView),
    };
  });
  const flownHours = (pieces * PIECE_S) / 3600;
  return {
    threshold,
    points,
    sourceFree: {
      hours: flownHours,
      falseAlarms,
      perHour: falseAlarms / flownHours,
      upper95PerHour: garwoodInterval(falseAlarms, 0.95).upper / flownHours,
    },
  };
}

/** Two sigmas about the way of a point during the exposure, px². */
function aperturePx2(): number {
  const smearPx = (FOCAL_PX * SPEED_MPS * EXPOSURE_S) / RANGE_M;
  return Math.PI * 4 * BLUR_PX ** 2 + 4 * BLUR_PX * smearPx;
}

/**
 * What counting allows at one false alarm an hour: n events within two sigmas of a place followed through its pass (86 %
 * of the source's events, less at the sides of the smear), n so large that the independent places of an hour reach it
 * once. The likelihood ratio, which weighs each event by its place, can do better. Places: apertures in the picture, times ranges told apart by the parallax of a pass, times passes in an hour.
 */
function apertureCount(events: number, background: number, widthPx: number, heightPx: number, frames: number): number {
  const area = aperturePx2();
  const mean = (background * frames * area) / (widthPx * heightPx);
  const depthM = 2 * LINE_CORRIDOR.radiusM;
  const ranges = Math.max(1, (widthPx * depthM) / RANGE_M / (2 * BLUR_PX));
  const places = ((widthPx * heightPx) / area) * ranges * ((3600 * FRAMES_PER_S) / frames);
  let n = 1;
  while (places * poissonTail(n, mean) > 1) n++;
  return poissonTail(n, 0.9 * events + mean);
}

/** The same with single frames: n events of one frame within an aperture, once an hour by chance, in any frame of the pass. */
function singleFrame(perFrame: number, background: number, widthPx: number, heightPx: number, frames: number): number {
  const area = aperturePx2();
  const mean = (background * area) / (widthPx * heightPx);
  const places = ((widthPx * heightPx) / area) * 3600 * FRAMES_PER_S;
  let n = 1;
  while (places * poissonTail(n, mean) > 1) n++;
  return 1 - (1 - poissonTail(n, 0.9 * perFrame + mean)) ** frames;
}

/** Wilson's score interval, 95 %. Source: Wilson, JASA 22 (1927) 209 (from memory). */
function wilson(hits: number, trials: number): [number, number] {
  const z = normalQuantile(0.975);
  const p = hits / trials;
  const middle = (p + (z * z) / (2 * trials)) / (1 + (z * z) / trials);
  const half = (z * Math.sqrt((p * (1 - p)) / trials + (z * z) / (4 * trials * trials))) / (1 + (z * z) / trials);
  return [middle - half, middle + half];
}

/** The study as a table in Markdown. */
export function detectionTable(study: DetectionStudy): string {
  const percent = (p: number): string => `${(100 * p).toFixed(1)} %`;
  const rows = study.points.map(
    (point) =>
      `| ${point.eventsPerPass} | ${point.eventsPerFrame.toFixed(3)} | ${percent(point.probability)} | ${percent(point.lower)} to ${percent(point.upper)} | ${percent(point.apertureCount)} | ${percent(point.singleFrame)} |`,
  );
  const { hours, falseAlarms, upper95PerHour } = study.sourceFree;
  return [
    '| events in a pass | events a frame | found | 95 % interval | count in an aperture | single frames |',
    '|---|---|---|---|---|---|',
    ...rows,
    '',
    `Threshold ${study.threshold.toFixed(1)} (ln likelihood ratio). ${falseAlarms} false alarms in ${hours.toFixed(1)} source-free hours; 95 % upper bound ${upper95PerHour.toFixed(2)} an hour.`,
  ].join('\n');
}
