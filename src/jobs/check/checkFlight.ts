import { join } from 'node:path';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { ultravioletExtinction } from '../../earth/ultravioletExtinction.ts';
import { eventsPerPhotonAt } from '../../grade/estimatePhotonRate.ts';
import { InputError } from '../../input/InputError.ts';
import { parseWith } from '../../input/parseWith.ts';
import { corridorOf } from '../../line/corridorOf.ts';
import type { LineModel } from '../../line/LineModel.ts';
import { lineModelFromFile } from '../../line/lineModelFromFile.ts';
import { quantile } from '../../maths/sampleStatistics.ts';
import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import { sliceEvents } from '../../photon/PhotonEventsBuilder.ts';
import { coverComponents } from '../../place/coverComponents.ts';
import { checkRigFits } from '../../recording/checkRigFits.ts';
import { type FlightDescription, flightDescription } from '../../recording/FlightDescription.ts';
import type { FrameIndex } from '../../recording/FrameIndex.ts';
import { readFrameIndex } from '../../recording/frameIndexFile.ts';
import { readJsonFile } from '../../recording/jsonFile.ts';
import { readPhotonEvents } from '../../recording/photonEventTable.ts';
import type { RigDescription } from '../../recording/RigDescription.ts';
import { readFlightTrajectory } from '../../recording/readFlightTrajectory.ts';
import { readRig } from '../../recording/readRig.ts';
import type { TrajectoryTable } from '../../recording/TrajectoryTable.ts';
import { openUvFrames } from '../../recording/uvFrames.ts';
import { mountingFromRig } from '../../rig/mountingFromRig.ts';
import type { Registration } from '../../rig/Registration.ts';
import type { FramePoses } from '../../sighting/EventRays.ts';
import { findSightings } from '../../sighting/findSightings.ts';
import { framePoses } from '../../sighting/framePoses.ts';
import { raysOfEvents } from '../../sighting/raysOfEvents.ts';
import { utcFromStamp } from '../../time/utcFromStamp.ts';
import { buildTrack } from '../../trajectory/buildTrack.ts';
import { eventsForDetection } from '../inspect/eventsForDetection.ts';
import { PARAMETERS } from '../inspect/parameters.ts';
import { systematicErrors } from '../inspect/systematicErrors.ts';
import type { JobWatch } from '../JobWatch.ts';
import { registrationForRig } from '../registrationForRig.ts';
import { USUAL_THRESHOLD } from '../usualThreshold.ts';
import type { CheckFinding } from './CheckFinding.ts';
import { coverageToRepeat, type Repeat } from './coverageToRepeat.ts';
import { type GainStretch, gainFindings } from './gainFindings.ts';
import { imageFindings } from './imageFindings.ts';
import { type RigAgreement, revisits, rigAgreement, type SearchedStretch } from './rigAgreement.ts';
import { evenRanges, type FrameRange, type FrameSample, startSampling } from './sampleFrames.ts';
import { streamFindings } from './streamFindings.ts';
import { type Synchronisation, synchronisation } from './synchronisation.ts';
import { trajectoryFindings } from './trajectoryFindings.ts';

export interface CheckOptions {
  readonly rigFile: string;
  readonly registrationFile: string | null;
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
  const registration = await registrationForRig(options.registrationFile, rig);
  const { description, uvIndex, colourIndex, trajectory } = flight;
  const { uv } = description.streams;
  const frame = localFrameAt([trajectory.lonDeg[0], trajectory.latDeg[0], Math.round(trajectory.heightM[0])]);
  const line = options.lineFile ? await plannedLine(options.lineFile, frame, options.structures) : null;
  const findings: CheckFinding[] = [];

  const uvStream = streamFindings('uv', uvIndex, uv.frameRateHz);
  const colourStream = streamFindings('colour', colourIndex, description.streams.colour.frameRateHz);
  const unixS = Date.parse(description.epoch.utc) / 1000;
  const sync = synchronisation(uvIndex, colourIndex, uv.frameRateHz, unixS);
  const gain = gainFindings(uvIndex, rig.cameras.uv.gainCurve);
  findings.push(...uvStream.findings, ...colourStream.findings, ...sync.findings, ...gain.findings);

  const mounting = mountingFromRig(rig);
  const track = buildTrack(trajectory, frame, { file: join(folder, description.trajectory.file) });
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

  const stored = options.eventsFile ? await readPhotonEvents(options.eventsFile) : null;
  const frames = await openUvFrames(folder, uv, uvIndex);
  const samples: FrameSample[] = [];
  const searched: SearchedStretch[] = [];
  try {
    const sample = startSampling(rig.cameras.uv, frames, uvIndex);
    const look = async (ranges: readonly FrameRange[], step: string): Promise<void> => {
      for (const each of await sample(ranges, watch, step)) {
        samples.push(each);
        searched.push(search(each, stored ? eventsWithin(stored, each) : each.events));
      }
    };
    await look(evenRanges(uvIndex.length, uv.widthPx * uv.heightPx), 'sampled frames');
    const strong = searched.flatMap((stretch) => stretch.sightings);
    const again = revisits(strong, poses, lens, samples, PARAMETERS.farthestM);
    if (again.length > 0) await look(again, 'the same places from other passes');
  } finally {
    await frames.close();
  }
  samples.sort((a, b) => a.from - b.from);
  const images = imageFindings(samples);
  findings.push(...images.findings);
  const agreement = rigAgreement(description.name, searched, (tNs) =>
    systematicErrors(track, tNs, mounting, registration),
  );
  findings.push(...agreement.findings);
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

  let repeat: Repeat[] = [];
  let coverageFigures: FlightCheck['figures']['coverage'] = null;
  if (line) {
    const usable = posesWithout(poses, images.unusable, samples);
    const coverage = coverComponents(line, usable, registration.model.uv, {
      eventsPerPhotonAt: lightAt(rig, description),
      eventsNeeded: (framesInView) =>
        eventsForDetection({
          threshold: USUAL_THRESHOLD,
          framesInView,
          backgroundPerPx: backgroundPerPx(samples, registration),
          sigmaPx: rig.cameras.uv.blurSigmaPx,
          exposureS: uvIndex[0].exposureNs * 1e-9,
          frameRateHz: uv.frameRateHz,
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
      framesRead: samples.reduce((sum, s) => sum + s.to - s.from, 0),
      eventsPerFrame: { least: Math.min(...rates), median: quantile(rates, 0.5), most: Math.max(...rates) },
      darkDn: { least: Math.min(...samples.map((s) => s.darkDn)), most: Math.max(...samples.map((s) => s.darkDn)) },
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

interface CheckedFlight {
  readonly description: FlightDescription;
  readonly uvIndex: FrameIndex;
  readonly colourIndex: FrameIndex;
  readonly trajectory: TrajectoryTable;
}

/** Opens a flight as `openFlight` does, but lets a trajectory be too short and gains be odd: those are findings here. */
async function openForCheck(folder: string, rig: RigDescription): Promise<CheckedFlight> {
  const file = join(folder, 'flight.json');
  const description = parseWith(flightDescription, (await readJsonFile(file)).value, file);
  checkRigFits(rig, description, file);
  const { streams } = description;
  const { index: uvIndex } = await readFrameIndex(folder, streams.uv, 'uv', file);
  const { index: colourIndex } = await readFrameIndex(folder, streams.colour, 'colour', file);
  const { table: trajectory } = await readFlightTrajectory(folder, description, file);
  return { description, uvIndex, colourIndex, trajectory };
}

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

/** Events are in order of frame: those of a stretch are one piece of the table. */
function eventsWithin(events: PhotonEvents, range: FrameRange): PhotonEvents {
  let from = 0;
  while (from < events.count && events.frame[from] < range.from) from++;
  let to = from;
  while (to < events.count && events.frame[to] < range.to) to++;
  return sliceEvents(events, from, to);
}

/** Without the frames to which an unusable stretch is the nearest that was looked at. */
function posesWithout(
  poses: FramePoses,
  unusable: readonly FrameSample[],
  samples: readonly FrameSample[],
): FramePoses {
  if (unusable.length === 0) return poses;
  const middle = (s: FrameSample): number => (s.from + s.to) / 2;
  return pickPoses(poses, (frame) => {
    const nearest = samples.reduce((a, b) => (Math.abs(middle(b) - frame) < Math.abs(middle(a) - frame) ? b : a));
    return !unusable.includes(nearest);
  });
}

function pickPoses(poses: FramePoses, keep: (frame: number) => boolean): FramePoses {
  const rows = [...poses.frame.keys()].filter((row) => keep(poses.frame[row]));
  const wide = (data: Float64Array, n: number): Float64Array => {
    const out = new Float64Array(n * rows.length);
    rows.forEach((row, i) => {
      out.set(data.subarray(n * row, n * row + n), n * i);
    });
    return out;
  };
  return {
    count: rows.length,
    frame: Int32Array.from(rows, (row) => poses.frame[row]),
    tNs: wide(poses.tNs, 1),
    exposureNs: wide(poses.exposureNs, 1),
    originEnuM: wide(poses.originEnuM, 3),
    uvFromEnu: wide(poses.uvFromEnu, 9),
  };
}
