import { localFrameAt } from '../../earth/LocalFrame.ts';
import { ultravioletExtinction } from '../../earth/ultravioletExtinction.ts';
import { eventsPerPhotonAt } from '../../grade/estimatePhotonRate.ts';
import { InputError } from '../../input/InputError.ts';
import { corridorOf } from '../../line/corridorOf.ts';
import type { LineModel } from '../../line/LineModel.ts';
import { lineModelFromFile } from '../../line/lineModelFromFile.ts';
import { quantile } from '../../maths/sampleStatistics.ts';
import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import { coverComponents } from '../../place/coverComponents.ts';
import type { FlightDescription } from '../../recording/FlightDescription.ts';
import { readJsonFile } from '../../recording/jsonFile.ts';
import { readPhotonEvents } from '../../recording/photonEventTable.ts';
import type { RigDescription } from '../../recording/RigDescription.ts';
import { readRig } from '../../recording/readRig.ts';
import { mountingFromRig } from '../../rig/mountingFromRig.ts';
import type { Registration } from '../../rig/Registration.ts';
import { findSightings } from '../../sighting/findSightings.ts';
import { framePoses } from '../../sighting/framePoses.ts';
import { glowTracks } from '../../sighting/glowTracks.ts';
import { shareOfDarkPasses } from '../../sighting/halfWave.ts';
import { raysOfEvents } from '../../sighting/raysOfEvents.ts';
import { utcFromStamp } from '../../time/utcFromStamp.ts';
import { buildTrack } from '../../trajectory/buildTrack.ts';
import { eventsByFramesInView, MOST_DARK, USUAL_FRAMES_IN_VIEW } from '../inspect/eventsForDetection.ts';
import { PARAMETERS } from '../inspect/parameters.ts';
import { systematicErrors } from '../inspect/systematicErrors.ts';
import { Interrupted, type JobWatch } from '../JobWatch.ts';
import { mountingForRig } from '../mountingForRig.ts';
import { registrationForRig } from '../registrationForRig.ts';
import { flightSlips } from '../slips/flightSlips.ts';
import { USUAL_THRESHOLD } from '../usualThreshold.ts';
import type { CheckFinding } from './CheckFinding.ts';
import { coverageToRepeat, type Repeat } from './coverageToRepeat.ts';
import { type GainStretch, gainFindings } from './gainFindings.ts';
import { imageFindings } from './imageFindings.ts';
import { type CheckedFlight, openForCheck } from './openForCheck.ts';
import { pickPoses, posesWithout } from './pickPoses.ts';
import { type RigAgreement, revisits, rigAgreement, type SearchedStretch } from './rigAgreement.ts';
import { evenRanges, eventsWithin, type FrameRange, type FrameSample, startSampling } from './sampleFrames.ts';
import { busyRanges, sampleRecorded } from './sampleRecorded.ts';
import { streamFindings } from './streamFindings.ts';
import { type Synchronisation, synchronisation } from './synchronisation.ts';
import { trajectoryFindings } from './trajectoryFindings.ts';

export interface CheckOptions {
  readonly rigFile: string;
  readonly registrationFile: string | null;
  /** null: as rig.json states it. */
  readonly mountingFile: string | null;
  /** null: nothing can be said of coverage. */
  readonly lineFile: string | null;
  /** Towers whose hardware and spans the flight was to see; empty: all of the line. */
  readonly structures: readonly string[];
  /** Photon events of the flight, as an inspection or the recorder stored them; null: of the sampled frames alone. */
  readonly eventsFile: string | null;
  /** Weakest discharge that the flight must be able to show, photons/s; infinite: being seen is enough. */
  readonly wantedHz: number;
}

export interface FlightCheck {
  readonly flight: string;
  readonly fitToGoHome: boolean;
  readonly findings: readonly CheckFinding[];
  readonly repeat: readonly Repeat[];
  readonly epochUtc: (tNs: number) => string;
  readonly figures: {
    readonly minutes: number;
    readonly uvFrames: number;
    readonly colourFrames: number;
    readonly uvMissing: number;
    readonly colourMissing: number;
    readonly uvJitterMs: number;
    readonly synchronisation: Synchronisation | null;
    readonly gains: readonly GainStretch[];
    readonly framesRead: number;
    readonly eventsPerFrame: { readonly least: number; readonly median: number; readonly most: number };
    readonly darkDn: { readonly least: number; readonly most: number };
    readonly chargeRatio: number | null;
    readonly framesWithPose: number;
    readonly agreement: RigAgreement;
    readonly coverage: {
      readonly components: number;
      readonly clear: number;
      readonly worstLimitHz: number | null;
    } | null;
  };
}

/** Ratio from which a source is certain whatever the flight's own threshold. */
const CERTAIN = 30;
/** Every n-th frame is asked what it saw: a fifth of a second at 50 frames a second. */
const COVERAGE_FRAME_STEP = 10;

/** Says, in the field, whether a flight can be inspected or what has to be flown again. Nothing is written. */
export async function checkFlight(folder: string, options: CheckOptions, watch: JobWatch): Promise<FlightCheck> {
  const { rig } = await readRig(options.rigFile);
  const flight = await openForCheck(folder, rig);
  try {
    return await checkOpened(folder, flight, rig, options, watch);
  } finally {
    await flight.close();
  }
}

async function checkOpened(
  folder: string,
  flight: CheckedFlight,
  rig: RigDescription,
  options: CheckOptions,
  watch: JobWatch,
): Promise<FlightCheck> {
  const registration = await registrationForRig(options.registrationFile, rig);
  const { description, uvIndex, colourIndex, trajectory } = flight;
  const { uv } = description.streams;
  const frame = localFrameAt([trajectory.lonDeg[0], trajectory.latDeg[0], Math.round(trajectory.heightM[0])]);
  const line = options.lineFile ? await plannedLine(options.lineFile, frame, options.structures) : null;
  const findings: CheckFinding[] = flight.notes.map((detail) => note('streams', 'recording', detail));

  const uvStream = streamFindings('uv', uvIndex, uv.frameRateHz);
  const colourStream = streamFindings('colour', colourIndex, description.streams.colour.frameRateHz);
  const unixS = Date.parse(description.epoch.utc) / 1000;
  const sync = synchronisation(uvIndex, colourIndex, uv.frameRateHz, unixS);
  const gain = gainFindings(uvIndex, rig.cameras.uv.gainCurve);
  findings.push(...uvStream.findings, ...colourStream.findings, ...sync.findings, ...gain.findings);

  const mounting = options.mountingFile
    ? (await mountingForRig(options.mountingFile, rig, registration)).mounting
    : mountingFromRig(rig);
  const track = buildTrack(trajectory, frame, { file: `${folder}, trajectory` });
  const { poses, refused } = framePoses(track, mounting, uvIndex);
  findings.push(...trajectoryFindings(track, line, uvIndex, poses, refused));

  const corridor = corridorOf(line ?? NO_LINE, {
    radiusM: PARAMETERS.corridorRadiusM,
    nearestM: PARAMETERS.nearestM,
    farthestM: PARAMETERS.farthestM,
  });
  const lens = registration.model.uv;
  const search = (range: FrameRange, events: PhotonEvents): SearchedStretch => {
    const inside = pickPoses(poses, (frame) => frame >= range.from && frame < range.to);
    const rays = raysOfEvents(events, inside, lens, rig.cameras.uv.blurSigmaPx);
    const { sightings } = findSightings({
      events,
      rays,
      poses: inside,
      lens,
      corridor,
      falseAlarmsPerHour: 1,
      seed: PARAMETERS.seed,
      atLeastRatio: CERTAIN,
    });
    return { sightings, rays, poses: inside };
  };

  const samples: FrameSample[] = [];
  const searched: SearchedStretch[] = [];
  let framesRead = 0;
  const look = (each: FrameSample, events: PhotonEvents): void => {
    samples.push(each);
    searched.push(search(each, events));
  };
  const again = (): FrameRange[] =>
    revisits(
      searched.flatMap((stretch) => stretch.sightings),
      poses,
      lens,
      samples,
      PARAMETERS.farthestM,
    );
  if (flight.frames.kind === 'recording') {
    const { events, ...images } = flight.frames;
    const even = evenRanges(uvIndex.length, 1);
    const lookAt = async (ranges: readonly FrameRange[], step: string): Promise<void> => {
      for (const [i, range] of ranges.entries()) {
        watch.progress(step, i, ranges.length, 'stretches');
        if (watch.signal?.aborted) throw new Interrupted();
        const each = await sampleRecorded(range, rig.cameras.uv, events, uvIndex, images);
        framesRead += each.imagesRead;
        look(each, each.events);
      }
    };
    await lookAt([...even, ...busyRanges(events, uvIndex.length, even)], 'stretches of the recording');
    await lookAt(again(), 'the same places from other passes');
  } else {
    const stored = options.eventsFile ? await readPhotonEvents(options.eventsFile) : null;
    const frames = await flight.frames.open();
    try {
      const sample = startSampling(rig.cameras.uv, frames, uvIndex);
      const lookAt = async (ranges: readonly FrameRange[], step: string): Promise<void> => {
        for (const each of await sample(ranges, watch, step)) {
          framesRead += each.to - each.from;
          look(each, stored ? eventsWithin(stored, each) : each.events);
        }
      };
      await lookAt(evenRanges(uvIndex.length, uv.widthPx * uv.heightPx), 'sampled frames');
      const others = again();
      if (others.length > 0) await lookAt(others, 'the same places from other passes');
    } finally {
      await frames.close();
    }
  }
  samples.sort((a, b) => a.from - b.from);
  const images = imageFindings(samples);
  findings.push(...images.findings);
  const agreement = rigAgreement(description.name, searched, (tNs) =>
    systematicErrors(track, tNs, mounting, registration),
  );
  findings.push(...agreement.findings);
  const slips = flightSlips({
    glows: samples.flatMap((each) => glowTracks(each.events)).sort((a, b) => b.frame.length - a.frame.length),
    sightings: searched.flatMap((stretch) => stretch.sightings),
    track,
    mounting,
    lens,
    line,
    unixS,
  });
  const before = new Set(findings.map((f) => f.name));
  findings.push(
    ...slips.filter(({ name }) => !before.has(name)).map((slip): CheckFinding => ({ area: 'trajectory', ...slip })),
  );
  if (options.registrationFile === null)
    findings.push(
      note('rig', 'no registration', 'nominal lenses serve; whether the rig agrees with its bench is not told'),
    );
  else if (agreement.figures.sources === 0)
    findings.push(
      note(
        'rig',
        'no strong source',
        'no sampled stretch shows one, so that nothing tells whether the rig agrees with its registration',
      ),
    );
  else if (agreement.figures.pairs.length === 0)
    findings.push(
      note(
        'rig',
        'no source twice',
        'no strong source was met in two passes, which alone would show a turned boresight',
      ),
    );

  const dark = shareOfDarkPasses({
    mainsHz: description.conditions.mainsHz,
    exposureS: uvIndex[0].exposureNs * 1e-9,
    frameRateHz: uv.frameRateHz,
    frames: USUAL_FRAMES_IN_VIEW,
  });
  if (dark > MOST_DARK)
    findings.push(
      note(
        'coverage',
        'exposures in step with the mains',
        `light on one half-wave alone may stay unseen in ${Math.round(100 * dark)} % of the passes; expose for whole cycles`,
      ),
    );

  let repeat: Repeat[] = [];
  let coverageFigures: FlightCheck['figures']['coverage'] = null;
  if (line) {
    const usable = posesWithout(poses, images.unusable, samples);
    const coverage = coverComponents(line, usable, registration.model.uv, {
      eventsPerPhotonAt: lightAt(rig, description),
      eventsNeeded: eventsByFramesInView({
        threshold: USUAL_THRESHOLD,
        backgroundPerPx: backgroundPerPx(samples, registration),
        sigmaPx: rig.cameras.uv.blurSigmaPx,
        exposureS: uvIndex[0].exposureNs * 1e-9,
        frameRateHz: uv.frameRateHz,
        mainsHz: description.conditions.mainsHz,
      }),
      leastFrames: PARAMETERS.leastFrames,
      nearestM: PARAMETERS.nearestM,
      farthestM: PARAMETERS.farthestM,
      frameStep: COVERAGE_FRAME_STEP,
    });
    repeat = coverageToRepeat(line, coverage, options.wantedHz);
    const limits = coverage.flatMap((c) => (c.limitHz === null ? [] : [c.limitHz]));
    coverageFigures = {
      components: coverage.length,
      clear: limits.length,
      worstLimitHz: limits.length > 0 ? Math.max(...limits) : null,
    };
  } else
    findings.push({
      area: 'coverage',
      weight: 'warning',
      name: 'no line given',
      detail: 'whether everything was seen cannot be told without --line',
    });

  const rates = samples.map((s) => s.eventsPerFrame);
  const darkDn = samples.map((s) => s.darkDn).filter(Number.isFinite);
  const charges = samples.filter((s) => s.chargeCount > 0);
  const chargeCount = charges.reduce((sum, s) => sum + s.chargeCount, 0);
  return {
    flight: description.name,
    fitToGoHome: repeat.length === 0 && findings.every((f) => f.weight !== 'fault'),
    findings: findings.sort((a, b) => WEIGHTS.indexOf(a.weight) - WEIGHTS.indexOf(b.weight)),
    repeat,
    epochUtc: (tNs) => utcFromStamp(description.epoch, tNs),
    figures: {
      minutes: (uvIndex[uvIndex.length - 1].tNs - uvIndex[0].tNs) / 60e9,
      uvFrames: uvIndex.length,
      colourFrames: colourIndex.length,
      uvMissing: uvStream.health.missing,
      colourMissing: colourStream.health.missing,
      uvJitterMs: uvStream.health.jitterRmsNs * 1e-6,
      synchronisation: sync.figures,
      gains: gain.history,
      framesRead,
      eventsPerFrame: { least: Math.min(...rates), median: quantile(rates, 0.5), most: Math.max(...rates) },
      darkDn: { least: Math.min(...darkDn), most: Math.max(...darkDn) },
      chargeRatio:
        chargeCount > 0 ? charges.reduce((sum, s) => sum + s.chargeRatio * s.chargeCount, 0) / chargeCount : null,
      framesWithPose: poses.count,
      agreement: agreement.figures,
      coverage: coverageFigures,
    },
  };
}

const WEIGHTS = ['fault', 'warning', 'note'];
const NO_LINE: LineModel = { name: '', owner: '', voltageKv: 0, structures: [], components: [] };

const note = (area: CheckFinding['area'], name: string, detail: string): CheckFinding => ({
  area,
  weight: 'note',
  name,
  detail,
});

async function plannedLine(
  file: string,
  frame: ReturnType<typeof localFrameAt>,
  structures: readonly string[],
): Promise<LineModel> {
  const line = lineModelFromFile((await readJsonFile(file)).value, file, frame);
  if (structures.length === 0) return line;
  const known = new Set(line.structures.map((s) => s.id));
  const unknown = structures.find((id) => !known.has(id));
  if (unknown !== undefined)
    throw new InputError({
      file: 'command line',
      field: 'structures',
      found: `'${unknown}'`,
      expected: `ids of towers of ${file}`,
      todo: 'Correct the id.',
    });
  const wanted = new Set(structures);
  return { ...line, components: line.components.filter((c) => c.structureIds.every((id) => wanted.has(id))) };
}

function lightAt(rig: RigDescription, { conditions }: FlightDescription): (rangeM: number) => number {
  const { uv } = rig.cameras;
  const extinctionPerKm = ultravioletExtinction(conditions, uv.bandNm).perKm;
  return (rangeM) =>
    eventsPerPhotonAt(rangeM, { apertureMm: uv.apertureMm, eventsPerPhoton: uv.eventsPerPhoton, extinctionPerKm });
}

/** From the median stretch: sources are bright in few of them. */
const backgroundPerPx = (samples: readonly FrameSample[], registration: Registration): number => {
  const { widthPx, heightPx } = registration.model.uv;
  return (
    Math.max(
      quantile(
        samples.map((s) => s.eventsPerFrame),
        0.5,
      ),
      0.01,
    ) /
    (widthPx * heightPx)
  );
};
