/**
 * The weakest discharge that would have been found: the limit by formula behind every "clear", against synthetic discharges added to the
 * flight's own events and searched for, on fly-pasts of many kinds.
 */
import { type ComponentInjection, injectComponent } from '../../src/jobs/inject/injectComponent.ts';
import type { LineComponent } from '../../src/line/LineModel.ts';
import { randomFrom } from '../../src/maths/random.ts';
import type { SearchCorridor } from '../../src/sighting/EventRays.ts';
import { type FlownPast, flyPast } from '../../src/sighting/flyPast.fixture.ts';
import { isTimeUp, NotYetDone, pieceInTurn } from './pieces.ts';
import type { Study } from './Study.ts';

interface LimitSetting {
  readonly name: string;
  readonly backgroundPerFrame: number;
  readonly rangeM: number;
  readonly framesInView: number;
  readonly exposureMs: number;
  readonly passes: 1 | 2;
  readonly bunch: number;
  readonly onMains: boolean;
  /** ln likelihood ratio that a sighting must reach. */
  readonly threshold: number;
}

const USUAL: Omit<LimitSetting, 'name'> = {
  backgroundPerFrame: 5,
  rangeM: 40,
  framesInView: 100,
  exposureMs: 18,
  passes: 1,
  bunch: 1,
  onMains: false,
  threshold: 19,
};

const SETTINGS: readonly LimitSetting[] = [
  { ...USUAL, name: 'usual' },
  { ...USUAL, name: 'one background event a frame', backgroundPerFrame: 1 },
  { ...USUAL, name: '20 background events a frame', backgroundPerFrame: 20, threshold: 21 },
  { ...USUAL, name: '20 m away', rangeM: 20 },
  { ...USUAL, name: '80 m away', rangeM: 80 },
  { ...USUAL, name: '40 frames in view', framesInView: 40 },
  { ...USUAL, name: '250 frames in view', framesInView: 250 },
  { ...USUAL, name: '2 ms of exposure', exposureMs: 2 },
  { ...USUAL, name: 'two passes', passes: 2 },
  { ...USUAL, name: 'bunches of 2', bunch: 2 },
  { ...USUAL, name: 'bunches of 4', bunch: 4 },
  { ...USUAL, name: 'on one half-wave of the mains', onMains: true },
  { ...USUAL, name: 'on one half-wave, bunches of 2', onMains: true, bunch: 2 },
];

const TRIALS = 60;
const FRAMES_PER_S = 50;
const WIDTH_PX = 640;
const FOCAL_PX = 1000;
/** Between passes over the same place, s. */
const TURN_S = 60;

/** A second pass along the same way, its background its own, a minute later. */
function joined(first: FlownPast, second: FlownPast): FlownPast {
  const { poses, events } = first;
  const frames = poses.count;
  const laterNs = poses.tNs[frames - 1] + TURN_S * 1e9;
  const both = <T extends Float64Array | Float32Array | Int32Array | Uint8Array>(a: T, b: T, add = 0): T => {
    const out = new (a.constructor as new (length: number) => T)(a.length + b.length);
    out.set(a);
    out.set(b.map((v) => v + add) as T, a.length);
    return out;
  };
  const joinedEvents = {
    count: events.count + second.events.count,
    frame: both(events.frame, second.events.frame, frames),
    tNs: both(events.tNs, second.events.tNs, laterNs),
    xPx: both(events.xPx, second.events.xPx),
    yPx: both(events.yPx, second.events.yPx),
    charge: both(events.charge, second.events.charge),
    sigmaPx: both(events.sigmaPx, second.events.sigmaPx),
    flags: both(events.flags, second.events.flags),
  };
  return {
    ...first,
    events: joinedEvents,
    poses: {
      count: 2 * frames,
      frame: both(poses.frame, second.poses.frame, frames),
      tNs: both(poses.tNs, second.poses.tNs, laterNs),
      exposureNs: both(poses.exposureNs, second.poses.exposureNs),
      originEnuM: both(poses.originEnuM, second.poses.originEnuM),
      uvFromEnu: both(poses.uvFromEnu, second.poses.uvFromEnu),
    },
  };
}

async function limitOf(setting: LimitSetting, seed: number): Promise<ComponentInjection> {
  const { rangeM, framesInView, exposureMs, backgroundPerFrame } = setting;
  const speedMps = ((WIDTH_PX / FOCAL_PX) * rangeM * FRAMES_PER_S) / framesInView;
  const frames = framesInView + 160;
  const random = randomFrom(seed);
  const pass = (): FlownPast =>
    flyPast(random, { frames, backgroundPerFrame, sources: [], speedMps, exposureMs, focalPx: FOCAL_PX });
  const flown = setting.passes === 2 ? joined(pass(), pass()) : pass();
  const eastM = (speedMps * frames) / FRAMES_PER_S / 2;
  const place = [eastM, rangeM, 1] as const;
  const corridor: SearchCorridor = {
    segments: [{ fromEnuM: [-500, rangeM, 0], toEnuM: [5000, rangeM, 0] }],
    radiusM: 6,
    nearestM: rangeM / 2,
    farthestM: 2 * rangeM,
  };
  const component: LineComponent = {
    id: 'clamp',
    kind: 'clamp',
    structureIds: [],
    circuit: '',
    phase: '',
    axisEnuM: [place, place],
    radiusM: 0.1,
    sigmaM: 0.05,
    discs: 0,
    bundle: null,
  };
  const line = { name: '', owner: '', voltageKv: 132, structures: [], components: [] };
  return injectComponent(
    component,
    line,
    { ...flown, corridor, threshold: setting.threshold, blurSigmaPx: 0.9 },
    {
      ratesHz: [],
      along: null,
      trials: TRIALS,
      bunch: setting.bunch,
      onMains: setting.onMains,
      seed,
      eventsPerPhotonAt: (m) => 1e-6 / m ** 2,
      finderEfficiency: 1,
      backgroundPerFrame,
      spotSigmaPx: 1.3,
      exposureS: exposureMs / 1000,
      frameRateHz: FRAMES_PER_S,
      mainsHz: 50,
      watch: { progress: () => undefined, note: () => undefined },
    },
  );
}

const events = (result: ComponentInjection, hz: number | null): string => {
  // Events in proportion to the rate: those of the strongest rate tried give the unit.
  const top = result.points[result.points.length - 1];
  return hz === null ? '-' : ((hz / top.rateHz) * top.meanEvents).toFixed(1);
};

const ratioOf = ({ analyticLimitHz, limitHz }: ComponentInjection): number => (analyticLimitHz ?? 0) / (limitHz ?? 1);

export const study: Study = async ({ firstSeed = 1, progress }) => {
  const rows: { setting: LimitSetting; result: ComponentInjection }[] = [];
  for (const [i, setting] of SETTINGS.entries()) {
    const result = await pieceInTurn(`limits ${firstSeed} ${setting.name}`, async () => {
      if (isTimeUp()) throw new NotYetDone('the time for this run is used up; run again to go on');
      progress(setting.name);
      return limitOf(setting, 1000 * firstSeed + i);
    });
    rows.push({ setting, result });
  }
  const ratios = rows.map(({ result }) => ratioOf(result));
  return {
    title: 'Limits',
    headline: `The limit by formula is ${Math.min(...ratios).toFixed(2)} to ${Math.max(...ratios).toFixed(2)} times the rate that injection finds with 95 %, over ${SETTINGS.length} kinds of fly-past.`,
    markdown: [
      `A place on the line in a flight of ${WIDTH_PX} x 512 px, ${FRAMES_PER_S} frames a second, 0.9 px of scatter, spots of 1.3 px; if not said otherwise 5 background`,
      "events a frame, 40 m away, 100 frames in view, 18 ms of exposure, a threshold of 19. Synthetic discharges are added to the flight's own events by",
      `\`injectComponent\`, the code behind \`corposant inject\`: ${TRIALS} trials at each of seven rates about the limit by formula. The rate found with 95 % comes from a curve`,
      'through them, its interval from drawing the trials anew. Events: found by the camera, those of one instant nearer than 2.6 px as one.',
      '',
      '| setting | passes | frames in view | trials | events at 95 % | 95 % interval | events by formula | formula / injection |',
      '|---|---|---|---|---|---|---|---|',
      ...rows.map(
        ({ setting, result }) =>
          `| ${setting.name} | ${result.passes} | ${result.framesInView} | ${result.points.reduce((sum, p) => sum + p.trials, 0)} | ${events(result, result.limitHz)} | ${events(result, result.limitLower95Hz)} to ${events(result, result.limitUpper95Hz)} | ${events(result, result.analyticLimitHz)} | ${ratioOf(result).toFixed(2)} |`,
      ),
    ].join('\n'),
  };
};
