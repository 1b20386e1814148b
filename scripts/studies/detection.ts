/**
 * How weak a source the search in space still finds, and how often chance fools it: fly-pasts drawn event by event, searched
 * as an inspection does. Beside it what a known place and plain counting allow, and what a threshold on single frames
 * would find.
 */
import { eventsForDetection } from '../../src/jobs/inspect/eventsForDetection.ts';
import { garwoodInterval } from '../../src/maths/poissonInterval.ts';
import { type Random, randomFrom } from '../../src/maths/random.ts';
import { distance } from '../../src/maths/vec3.ts';
import {
  fitDetectionCurve,
  intervalOfRate,
  rateFoundOnCurve,
  wilsonInterval,
} from '../../src/sighting/detectionCurve.ts';
import { backgroundBut, extractSources, nothingExplained } from '../../src/sighting/extractSources.ts';
import { type FalseAlarmLaw, falseAlarmsPerHour, thresholdFor } from '../../src/sighting/falseAlarmLaw.ts';
import { findSightings } from '../../src/sighting/findSightings.ts';
import { type FlownPast, type FlyPastSource, flyPast, LINE_CORRIDOR } from '../../src/sighting/flyPast.fixture.ts';
import { hoursOf, lawOfChance } from '../../src/sighting/lawOfChance.ts';
import { fitFlux, passOf } from '../../src/sighting/pointSource.ts';
import { layOutScene, type SearchScene } from '../../src/sighting/SearchScene.ts';
import { suspicionsOf } from '../../src/sighting/suspicions.ts';
import {
  apertureCount,
  BLUR_PX,
  type DetectionSetting,
  FRAMES_IN_VIEW,
  FRAMES_PER_S,
  RANGE_M,
  singleFrame,
} from './countingLimits.ts';
import { isTimeUp, NotYetDone, piece } from './pieces.ts';
import type { Study } from './Study.ts';

/** Source-free flights searched with LOOSELY false alarms an hour allowed. */
interface EmptyFlights {
  readonly hours: number;
  /** Each source without suspicion: how many an hour the law in use says are as strong. */
  readonly statedPerHour: readonly number[];
}

interface Passes {
  readonly passes: number;
  readonly found: number;
  /** Passes in which the true place, known beforehand, reaches the same threshold on the same events. */
  readonly foundAtKnownPlace: number;
}

/** Asked of a source-free flight, so that its law is tested at ten times the rate of one an hour, too. */
const LOOSELY = 10;

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

/** Laws of chance as inspections measure them, each on a flight of its own. */
function lawsOf(setting: DetectionSetting, minutes: number, flights: number, firstSeed: number): FalseAlarmLaw[] {
  return Array.from({ length: flights }, (_, i) => {
    const seed = firstSeed + i;
    const scene = sceneOf(fly(randomFrom(seed), setting, minutes * 60 * FRAMES_PER_S, RANGE_M, []));
    return lawOfChance(scene, new Float64Array(scene.count).fill(1), {
      corridor: LINE_CORRIDOR,
      seed,
      hours: hoursOf(scene),
    });
  });
}

/**
 * `flights` source-free flights of so many minutes, each searched with one of the laws. The rounds that look for what is certain
 * (ratios of 30 and more, which chance does not reach) are left out, all else is as in an inspection.
 */
function emptyFlights(
  setting: DetectionSetting,
  laws: readonly FalseAlarmLaw[],
  of: { readonly minutes: number; readonly flights: number; readonly firstSeed: number },
): EmptyFlights {
  const statedPerHour: number[] = [];
  let hours = 0;
  for (let i = 0; i < of.flights; i++) {
    const seed = of.firstSeed + i;
    const law = laws[seed % laws.length];
    const scene = sceneOf(fly(randomFrom(seed), setting, of.minutes * 60 * FRAMES_PER_S, RANGE_M, []));
    const explanation = nothingExplained(scene);
    const found = extractSources(scene, explanation, {
      corridor: LINE_CORRIDOR,
      floor: thresholdFor(law, LOOSELY),
      effort: 'weak',
    });
    hours += hoursOf(scene);
    for (const source of found)
      if (suspicionsOf(source, scene, LINE_CORRIDOR, backgroundBut(explanation, source), undefined).length === 0)
        statedPerHour.push(falseAlarmsPerHour(law, source.logLikelihoodRatio));
  }
  return { hours, statedPerHour };
}

/**
 * Passes over a source at a place of its own in the corridor, each with its own background, 100 frames in view. Counted as
 * found where a sighting without suspicion lies within a metre along the line and up, and two in range.
 */
function passesOver(
  setting: DetectionSetting,
  thresholds: readonly number[],
  of: { readonly eventsPerFrame: number; readonly passes: number; readonly seed: number },
): Passes {
  let found = 0;
  let foundAtKnownPlace = 0;
  const frames = 2 * FRAMES_IN_VIEW;
  for (let i = 0; i < of.passes; i++) {
    const random = randomFrom(of.seed + i);
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
  return { passes: of.passes, found, foundAtKnownPlace };
}

/** Light that follows the eighth power of one half-wave, so that half of it lies within 1.5 ms; its mean is 1. */
function halfWave(mainsHz: number, phase: number): { at: (seconds: number) => number; most: number } {
  const most = 256 / 35; // the mean of sin^8 over one half of the period, none over the other, is 35 / 256
  return {
    most,
    at: (seconds) => most * Math.max(0, Math.sin(2 * Math.PI * (mainsHz * seconds + phase))) ** 8,
  };
}

interface Planned {
  readonly setting: DetectionSetting;
  /** Source-free flights: hours in all, and minutes of each. */
  readonly hours: number;
  readonly minutes: number;
  /** One event in so many frames. */
  readonly oneIn: readonly number[];
  /** Takes the thresholds of another setting, since only its sources differ. */
  readonly thresholdsOf?: string;
}

const STEADY = { widthPx: 640, heightPx: 512, backgroundPerFrame: 5, exposureMs: 18, bunch: 1 };
const DOWN_TO_NOTHING = [6, 8, 10, 12, 14, 17, 20, 25, 33];
const FEW_POINTS = [8, 12, 17];

/** Two cameras, exposures, bunches, the mains, ten times the background. */
const PLAN: readonly Planned[] = [
  { setting: { ...STEADY, name: '640 x 512' }, hours: 20, minutes: 5, oneIn: DOWN_TO_NOTHING },
  {
    setting: { ...STEADY, name: '1280 x 1024', widthPx: 1280, heightPx: 1024 },
    hours: 20,
    minutes: 5,
    oneIn: DOWN_TO_NOTHING,
  },
  ...[2, 10, 20].map((exposureMs) => ({
    setting: { ...STEADY, name: `exposure ${exposureMs} ms`, exposureMs },
    hours: 10,
    minutes: 5,
    oneIn: FEW_POINTS,
  })),
  ...[2, 4].map((bunch) => ({
    setting: { ...STEADY, name: `bunches of ${bunch} events`, bunch },
    hours: 0,
    minutes: 0,
    oneIn: FEW_POINTS,
    thresholdsOf: '640 x 512',
  })),
  ...[2, 10, 20].flatMap((exposureMs) =>
    [50, 50.1, 50.5].map((mainsHz) => ({
      setting: { ...STEADY, name: `exposure ${exposureMs} ms, mains ${mainsHz} Hz`, exposureMs, mainsHz },
      hours: 0,
      minutes: 0,
      oneIn: FEW_POINTS,
      thresholdsOf: `exposure ${exposureMs} ms`,
    })),
  ),
  {
    setting: { ...STEADY, name: 'ten times the background', backgroundPerFrame: 50 },
    hours: 2,
    minutes: 2,
    oneIn: [3, 4, 5, 6, 8, 12],
  },
];

const PASSES_A_POINT = 200;
const PASSES_A_PIECE = 50;
const LAWS = 8;
const LAWS_A_PIECE = 4;
const MINUTES_A_PIECE = 60;

interface Studied {
  readonly planned: Planned;
  readonly empty: EmptyFlights | null;
  /** ln likelihood ratio for one false alarm an hour, law by law. */
  readonly thresholds: readonly number[];
  readonly points: readonly (Passes & { readonly eventsPerFrame: number })[];
}

const pieces = <T>(count: number, make: (i: number) => T): T[] => Array.from({ length: count }, (_, i) => make(i));

/** What `make` gives; nothing where it is not done yet and a page of what is done so far was asked for. */
function unlessUndone<T>(make: () => T): T[] {
  try {
    return [make()];
  } catch (error) {
    if (error instanceof NotYetDone && process.env.CORPOSANT_STUDY_PARTIAL) return [];
    throw error;
  }
}

function studyAll(firstSeed: number, progress: (text: string) => void): Studied[] {
  const work = <T>(name: string, make: () => T): T =>
    piece(`detection ${firstSeed} ${name}`, () => {
      if (isTimeUp()) throw new NotYetDone('the time for this run is used up; run again to go on');
      progress(name);
      return make();
    });
  const thresholds = new Map<string, readonly number[]>();
  const studied: Studied[] = [];
  for (const [number, planned] of PLAN.entries()) {
    studied.push(...unlessUndone(() => studyOne(planned, number)));
  }
  return studied;

  function studyOne(planned: Planned, number: number): Studied {
    const { setting, hours, minutes } = planned;
    const seed = firstSeed * 10_000_000 + number * 100_000;
    let empty: EmptyFlights | null = null;
    if (hours > 0) {
      const laws = pieces(LAWS / LAWS_A_PIECE, (i) =>
        work(`${setting.name}, laws ${i + 1}`, () =>
          lawsOf(setting, minutes, LAWS_A_PIECE, seed + 90_000 + i * LAWS_A_PIECE),
        ),
      ).flat();
      thresholds.set(
        setting.name,
        laws.map((law) => thresholdFor(law, 1)),
      );
      const flights = Math.round(MINUTES_A_PIECE / minutes);
      const done = pieces(Math.ceil((60 * hours) / MINUTES_A_PIECE), (i) =>
        work(`${setting.name}, empty flights ${i + 1}`, () =>
          emptyFlights(setting, laws, { minutes, flights, firstSeed: seed + i * flights }),
        ),
      );
      empty = {
        hours: done.reduce((sum, one) => sum + one.hours, 0),
        statedPerHour: done.flatMap((one) => one.statedPerHour),
      };
    }
    const own = thresholds.get(planned.thresholdsOf ?? setting.name) ?? [];
    const points = planned.oneIn.flatMap((frames, point) =>
      unlessUndone(() => {
        const done = pieces(PASSES_A_POINT / PASSES_A_PIECE, (i) =>
          work(`${setting.name}, 1 in ${frames}, passes ${i + 1}`, () =>
            passesOver(setting, own, {
              eventsPerFrame: 1 / frames,
              passes: PASSES_A_PIECE,
              seed: seed + 50_000 + point * 1000 + i * PASSES_A_PIECE,
            }),
          ),
        );
        return {
          eventsPerFrame: 1 / frames,
          passes: done.reduce((sum, one) => sum + one.passes, 0),
          found: done.reduce((sum, one) => sum + one.found, 0),
          foundAtKnownPlace: done.reduce((sum, one) => sum + one.foundAtKnownPlace, 0),
        };
      }),
    );
    return { planned, empty, thresholds: own, points };
  }
}

const percent = (p: number): string => `${(100 * p).toFixed(1)} %`;
const upperBound = (count: number, hours: number): number => garwoodInterval(count, 0.9).upper / hours;

function alarmRow({ planned, empty, thresholds }: Studied): string[] {
  if (!empty) return [];
  const { hours, statedPerHour } = empty;
  const mean = thresholds.reduce((sum, t) => sum + t, 0) / thresholds.length;
  const once = statedPerHour.filter((stated) => stated <= 1).length;
  return [
    `| ${planned.setting.name} | ${mean.toFixed(1)} | ${Math.min(...thresholds).toFixed(1)} to ${Math.max(...thresholds).toFixed(1)} | ${hours.toFixed(1)} | ${once} | ${(once / hours).toFixed(2)} | ${upperBound(once, hours).toFixed(2)} | ${(statedPerHour.length / hours).toFixed(1)} |`,
  ];
}

function passRows({ planned: { setting }, points }: Studied): string[] {
  return points.map(({ eventsPerFrame, passes, found, foundAtKnownPlace }) => {
    const [lower, upper] = wilsonInterval(found, passes);
    const cells = [
      setting.name,
      `1 in ${Math.round(1 / eventsPerFrame)}`,
      (eventsPerFrame * FRAMES_IN_VIEW).toFixed(1),
      String(passes),
      percent(found / passes),
      `${percent(lower)} to ${percent(upper)}`,
      percent(foundAtKnownPlace / passes),
      percent(apertureCount(setting, eventsPerFrame)),
      percent(singleFrame(setting, eventsPerFrame)),
    ];
    return `| ${cells.join(' | ')} |`;
  });
}

/** Events a pass that are found with 95 %: by the curve through the passes, and by the formula that coverage uses. */
function limitRow({ planned: { setting }, points, thresholds }: Studied): string {
  const trials = points.map((point) => ({
    rateHz: point.eventsPerFrame * FRAMES_IN_VIEW,
    trials: point.passes,
    found: point.found,
  }));
  const curve = fitDetectionCurve(trials);
  const formula = eventsForDetection({
    threshold: thresholds.reduce((sum, t) => sum + t, 0) / thresholds.length,
    framesInView: FRAMES_IN_VIEW,
    backgroundPerPx: setting.backgroundPerFrame / (setting.widthPx * setting.heightPx),
    sigmaPx: BLUR_PX,
    exposureS: setting.exposureMs / 1000,
    frameRateHz: FRAMES_PER_S,
    crossingPx: setting.widthPx,
    bunch: setting.bunch,
    mainsHz: setting.mainsHz,
  });
  const measured = curve ? rateFoundOnCurve(curve, 0.95) : Number.NaN;
  const interval = curve && intervalOfRate(trials, curve, 0.95, randomFrom(1));
  // Beyond twice the strongest source tried the curve is a guess.
  const isKnown = measured < 2 * Math.max(...trials.map(({ rateHz }) => rateHz));
  return `| ${setting.name} | ${isKnown ? measured.toFixed(1) : 'more than was tried'} | ${isKnown && interval ? `${interval.lower.toFixed(1)} to ${interval.upper.toFixed(1)}` : ''} | ${Number.isFinite(formula) ? formula.toFixed(1) : 'none: too many passes are dark'} | ${isKnown && Number.isFinite(formula) ? (formula / measured).toFixed(2) : ''} |`;
}

/** The long one: hours of processor time. See pieces.ts for doing it bit by bit. */
export const study: Study = ({ firstSeed = 1, progress }) => {
  const studied = studyAll(firstSeed, progress);
  const missing = PLAN.filter(
    (planned) => !studied.some((one) => one.planned === planned && one.points.length === planned.oneIn.length),
  );
  const eighth = (one: Studied): string => {
    const point = one.points.find(({ eventsPerFrame }) => eventsPerFrame === 1 / 8);
    if (!point) return `(not yet measured) at ${one.planned.setting.name}`;
    const [lower] = wilsonInterval(point.found, point.passes);
    return `${percent(point.found / point.passes)} (95 % interval from ${percent(lower)}) at ${one.planned.setting.name}`;
  };
  const alarms = (one: Studied): string => {
    const { hours, statedPerHour } = one.empty!;
    const n = statedPerHour.filter((stated) => stated <= 1).length;
    return `${(n / hours).toFixed(2)} an hour at ${one.planned.setting.name} (95 % upper bound ${upperBound(n, hours).toFixed(2)}, ${hours.toFixed(0)} h)`;
  };
  const cameras = studied.filter(({ planned }) => planned.oneIn === DOWN_TO_NOTHING);
  return {
    title: 'Detection',
    headline: `At one false alarm an hour allowed, ${cameras.map(alarms).join(' and ')}; a source of one event in eight frames is found in ${cameras.map(eighth).join(' and ')} of 200 passes each.`,
    markdown: [
      'Fly-pasts drawn event by event: 100 frames in view, 50 frames a second, 36 degrees of view, a source at 36 to 44 m',
      'within a corridor of 6 m about the line, 0.9 px of scatter; 640 x 512 px, 5 background events a frame and 18 ms of exposure',
      `where not said otherwise. Laws of chance, and with them thresholds (ln likelihood ratio), are measured as an inspection does on ${LAWS}`,
      'flights of their own; source-free flights and passes are searched with them in turn.',
      '',
      ...(missing.length > 0
        ? [`Not measured yet, or in part: ${missing.map(({ setting }) => setting.name).join('; ')}.`, '']
        : []),
      '## False alarms',
      '',
      `Sightings without suspicion on flights without sources. The last column is the search with ${LOOSELY} an hour allowed: a test of the`,
      'same law with more counts.',
      '',
      `| setting | mean threshold | from to | hours | false alarms at 1/h | an hour | 95 % upper bound, one-sided | an hour at ${LOOSELY}/h |`,
      '|---|---|---|---|---|---|---|---|',
      ...studied.flatMap(alarmRow),
      '',
      '## Sources found',
      '',
      'Found: a sighting without suspicion at the right place (a metre along the line and up, two metres in range). Known place: the',
      'likelihood at the true place, with the true background, reaches the same threshold on the same events; a search may do better,',
      'since its place is fitted. Counting: what counting statistics allow, a Poisson count in an aperture of two sigmas that follows the',
      'place, reaching what chance reaches once an hour anywhere. Single frames: the same with the events of one frame, in any frame of',
      'the pass. Bunches: events come in geometric bunches at one instant. Mains: the light comes in one half-wave of each cycle, half of',
      'it within 1.5 ms; the phase is drawn for each pass, so that a short exposure may see nothing of it in a whole pass.',
      '',
      '| setting | events a frame | events a pass | passes | found | 95 % interval | known place | counting | single frames |',
      '|---|---|---|---|---|---|---|---|---|',
      ...studied.flatMap(passRows),
      '',
      '## The limit that coverage states',
      '',
      'Events a pass that are found with 95 %: by the curve through the passes above, with its 95 % interval, and by the formula behind',
      'every *clear* (`eventsForDetection`), which knows threshold, background, blur and smear, and bunches and the mains where told of them.',
      '',
      '| setting | measured | 95 % interval | formula | formula / measured |',
      '|---|---|---|---|---|',
      ...studied.filter(({ points }) => points.length >= 3).map(limitRow),
    ].join('\n'),
  };
};
