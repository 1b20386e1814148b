import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { ultravioletExtinction } from '../../earth/ultravioletExtinction.ts';
import { eventsPerPhotonAt } from '../../grade/estimatePhotonRate.ts';
import { mainsEffect } from '../../grade/mainsEffect.ts';
import { InputError } from '../../input/InputError.ts';
import type { LineModel } from '../../line/LineModel.ts';
import { lineFileOf, lineModelFromFile } from '../../line/lineModelFromFile.ts';
import { radFromDeg } from '../../maths/angle.ts';
import { meanChargeDn } from '../../photon/UvCamera.ts';
import { cameraLook } from '../../place/plan/cameraLook.ts';
import { type FlightAssumptions, type FlightFigures, flightFigures } from '../../place/plan/flightFigures.ts';
import { lineDepthM } from '../../place/plan/lineDepth.ts';
import { type ApproachDistance, approachDistances } from '../../place/plan/minimumApproachDistance.ts';
import { type PassProposal, proposePasses } from '../../place/plan/proposePasses.ts';
import {
  eventPositionSigmaPx,
  type SingleEventReadout,
  singleEventReadout,
} from '../../place/plan/singleEventReadout.ts';
import type { SystematicErrors } from '../../place/SystematicErrors.ts';
import { readJsonFile } from '../../recording/jsonFile.ts';
import type { RigDescription } from '../../recording/RigDescription.ts';
import { readRig } from '../../recording/readRig.ts';
import { writeFileAtomically } from '../../recording/writeFileAtomically.ts';
import { mountingFromRig } from '../../rig/mountingFromRig.ts';
import { eventsByFramesInView } from '../inspect/eventsForDetection.ts';
import { PARAMETERS } from '../inspect/parameters.ts';
import { registrationForRig } from '../registrationForRig.ts';
import { USUAL_THRESHOLD } from '../usualThreshold.ts';
import type { PlanOptions } from './PlanOptions.ts';
import { passesGeoJson, passesKml } from './passFiles.ts';
import { type PlannedView, viewsOfPlan } from './viewsOfPlan.ts';

export interface FlightPlan {
  readonly kind: 'planned';
  readonly rig: string;
  readonly line: string | null;
  readonly voltageKv: number | null;
  readonly approach: readonly ApproachDistance[];
  readonly gain: number;
  readonly readout: SingleEventReadout;
  readonly depthM: number;
  readonly rows: readonly FlightFigures[];
  readonly passes: PassProposal | null;
  /** How each component would be seen by them; null without passes, or where the line is too long for it. */
  readonly views: readonly PlannedView[] | null;
  readonly files: readonly string[];
  /** What was taken for granted, in words. */
  readonly assumed: readonly string[];
  readonly warnings: readonly string[];
}

export type PlanOutcome =
  | FlightPlan
  | {
      readonly kind: 'refused';
      readonly because: string;
      readonly approach: readonly ApproachDistance[];
      readonly voltageKv: number | null;
    };

/** The finder's own threshold, standard deviations of the filtered dark frame. */
const FINDER_SIGMAS = 5;
/** Attitude noise and the like within a pass, as the detection takes it. */
const POSE_NOISE_PX = 0.3;
const USUAL_DEPTH_M = 12;
const USUAL_AIR = { temperatureC: 15, pressureHPa: 1013.25, relativeHumidityPct: 60 } as const;

/** Figures of a flight before it is flown, and where to fly it. */
export async function planFlight(options: PlanOptions): Promise<PlanOutcome> {
  const { rig } = await readRig(options.rigFile);
  const gain = gainOf(options, rig);
  if (options.exposureS > 1 / options.frameRateHz)
    throw new InputError({
      file: 'command line',
      field: 'exposure',
      found: `${options.exposureS * 1000} ms`,
      expected: `at most ${(1000 / options.frameRateHz).toFixed(2)} ms, the time from frame to frame`,
      todo: 'Shorten the exposure or lower the frame rate.',
    });
  const line = options.lineFile ? await readLine(options.lineFile) : null;
  const voltageKv = options.voltageKv ?? (line && line.model.voltageKv > 0 ? line.model.voltageKv : null);
  const approach = voltageKv === null ? [] : approachDistances(voltageKv);
  const nearest = Math.min(...options.standoffsM);
  const broken = approach.filter((each) => nearest < each.distanceM);
  if (broken.length > 0 && !options.acknowledgeApproach)
    return {
      kind: 'refused',
      because:
        `a standoff of ${nearest} m is nearer than ${broken[0].distanceM.toFixed(2)} m ` +
        `(${broken[0].publication}, ${broken[0].meaning})`,
      approach,
      voltageKv,
    };

  const registration = await registrationForRig(options.registrationFile, rig);
  const { uv } = rig.cameras;
  const meanCharge = meanChargeDn(uv, gain);
  const readout = singleEventReadout({
    meanChargeDn: meanCharge,
    spotSigmaPx: uv.spotSigmaPx,
    saturationDn: uv.saturationLevel,
    pixelNoiseDn: options.pixelNoiseDn,
    thresholdSigmas: FINDER_SIGMAS,
  });
  const ownSigmaPx = eventPositionSigmaPx({
    meanChargeDn: meanCharge,
    spotSigmaPx: uv.spotSigmaPx,
    pixelNoiseDn: options.pixelNoiseDn,
  });
  const eventSigmaPx = Math.hypot(uv.blurSigmaPx, ownSigmaPx, POSE_NOISE_PX);
  const mounting = mountingFromRig(rig);
  const tilt = radFromDeg(options.tiltSigmaDeg);
  const lensBlock = new Float64Array(81);
  const wide = Math.sqrt(registration.covariance.length);
  for (let i = 0; i < 9; i++) for (let j = 0; j < 9; j++) lensBlock[9 * i + j] = registration.covariance[wide * i + j];
  const errors: SystematicErrors = {
    positionSigmaEnuM: [options.positionSigmaM, options.positionSigmaM, options.positionSigmaM],
    attitudeSigmaRad: { roll: tilt, pitch: tilt, heading: radFromDeg(options.headingSigmaDeg) },
    positionCorrelationS: PARAMETERS.positionCorrelationS,
    attitudeCorrelationS: PARAMETERS.attitudeCorrelationS,
    mounting,
    lens: registration.model.uv,
    lensCovariance: lensBlock,
  };
  const extinction = ultravioletExtinction(USUAL_AIR, uv.bandNm);
  const depthM = options.depthM ?? (line ? lineDepthM(line.model) : USUAL_DEPTH_M);
  const [right, down] = rig.pair.colourInUvM;
  const assumptions: FlightAssumptions = {
    uvLens: registration.model.uv,
    colourLens: registration.model.colour,
    baselineM: Math.hypot(right, down),
    mounting,
    errors,
    frameRateHz: options.frameRateHz,
    exposureS: options.exposureS,
    colourExposureS: options.colourExposureS,
    turnRadps: radFromDeg(options.turnDegps),
    eventSigmaPx,
    depthM,
    eventsNeeded: eventsByFramesInView({
      threshold: USUAL_THRESHOLD,
      backgroundPerPx: options.backgroundPerFrame / (uv.widthPx * uv.heightPx),
      sigmaPx: uv.blurSigmaPx,
      exposureS: options.exposureS,
      frameRateHz: options.frameRateHz,
      mainsHz: options.mainsHz,
    }),
    eventsPerPhotonAt: (rangeM) =>
      readout.foundShare *
      eventsPerPhotonAt(rangeM, {
        apertureMm: uv.apertureMm,
        eventsPerPhoton: uv.eventsPerPhoton,
        extinctionPerKm: extinction.perKm,
      }),
    leastFrames: PARAMETERS.leastFrames,
  };
  const rows = options.standoffsM.flatMap((standoffM) =>
    options.speedsMps.map((speedMps) => flightFigures(standoffM, speedMps, assumptions)),
  );

  const passes = line
    ? proposePasses(line.model, {
        standoffM: options.standoffsM[0],
        swathUpM: rows[0].uvSwathM.upM,
        leadM: 0.6 * rows[0].uvSwathM.alongM,
        look: cameraLook(mounting.bodyFromUv),
      })
    : null;
  const files: string[] = [];
  if (options.outFolder && line && passes?.kind === 'proposed') {
    await mkdir(options.outFolder, { recursive: true });
    const about = {
      line: line.model,
      frame: line.frame,
      standoffM: options.standoffsM[0],
      speedMps: options.speedsMps[0],
    };
    for (const [name, text] of [
      ['passes.geojson', passesGeoJson(passes.passes, about)],
      ['passes.kml', passesKml(passes.passes, about)],
    ]) {
      const file = join(options.outFolder, name);
      await writeFileAtomically(file, text);
      files.push(file);
    }
  }
  return {
    kind: 'planned',
    rig: rig.id,
    line: line?.model.name ?? null,
    voltageKv,
    approach,
    gain,
    readout,
    depthM,
    rows,
    passes,
    views:
      line && passes?.kind === 'proposed' && options.withViews !== false
        ? viewsOfPlan(line.model, passes.passes, options.speedsMps[0], assumptions)
        : null,
    files,
    assumed: [
      `position good to ${options.positionSigmaM} m, roll and pitch to ${options.tiltSigmaDeg}°, heading to ${options.headingSigmaDeg}°, turning at ${options.turnDegps}°/s`,
      `${options.backgroundPerFrame} background events a frame, dark noise ${options.pixelNoiseDn} DN a pixel, detection from a ln likelihood ratio of ${USUAL_THRESHOLD}`,
      `clean air at ${USUAL_AIR.temperatureC} °C; ${extinction.assumed.join('; ')}`,
      ...(options.registrationFile === null
        ? ['nominal lenses: no registration was given, which widens every position']
        : []),
    ],
    warnings: warningsOf(options, broken, voltageKv, rows, readout),
  };
}

function warningsOf(
  options: PlanOptions,
  broken: readonly ApproachDistance[],
  voltageKv: number | null,
  rows: readonly FlightFigures[],
  readout: SingleEventReadout,
): string[] {
  const out = broken.map(
    (each) =>
      `The nearest standoff is below ${each.distanceM.toFixed(2)} m, ${each.publication}, ${each.meaning}; acknowledged.`,
  );
  if (voltageKv === null)
    out.push('No voltage is known (--voltage, or a line): approach distances were not looked at.');
  for (const row of rows) {
    const where = `At ${row.standoffM} m and ${row.speedMps} m/s`;
    if (row.standoffM < PARAMETERS.nearestM || row.standoffM > PARAMETERS.farthestM)
      out.push(`${where}: an inspection searches from ${PARAMETERS.nearestM} to ${PARAMETERS.farthestM} m only.`);
    if (row.limitHz === null)
      out.push(
        `${where}: ${row.framesInView} frames in view, fewer than the ${PARAMETERS.leastFrames} that a pass needs.`,
      );
    if (row.colourSmearPx > 3) out.push(`${where}: the colour image smears over ${row.colourSmearPx.toFixed(1)} px.`);
  }
  if (readout.foundShare < 0.9)
    out.push(
      `At this gain ${Math.round(100 * readout.foundShare)} % of the single events stand out of the noise: raise it.`,
    );
  if (readout.saturatedShare > 0.05)
    out.push(`At this gain ${Math.round(100 * readout.saturatedShare)} % of the single events saturate: lower it.`);
  const mains = mainsEffect({
    mainsHz: options.mainsHz,
    exposureS: options.exposureS,
    frameRateHz: options.frameRateHz,
    watchedS: Math.min(...rows.map((row) => row.framesInView)) / options.frameRateHz,
  });
  if (mains.note) out.push(mains.note);
  return out;
}

function gainOf(options: PlanOptions, rig: RigDescription): number {
  const curve = rig.cameras.uv.gainCurve;
  const gain = options.gain ?? curve[Math.floor(curve.length / 2)].gain;
  if (gain >= curve[0].gain && gain <= curve[curve.length - 1].gain) return gain;
  throw new InputError({
    file: 'command line',
    field: 'gain',
    found: String(gain),
    expected: `a setting within the rig's gain curve, ${curve[0].gain} to ${curve[curve.length - 1].gain}`,
    todo: 'Choose such a setting, or add it to the gain curve of rig.json.',
  });
}

async function readLine(file: string): Promise<{ model: LineModel; frame: ReturnType<typeof localFrameAt> }> {
  const { value } = await readJsonFile(file);
  const { structures } = lineFileOf(value, file);
  // In the middle of the line, so that "up" is up along all of it.
  const frame = localFrameAt(structures[Math.floor(structures.length / 2)].positionLlh);
  return { model: lineModelFromFile(value, file, frame), frame };
}
