import { createHash } from 'node:crypto';
import { mkdir, readFile, rm } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { corridorOf } from '../../line/corridorOf.ts';
import { lineModelFromFile } from '../../line/lineModelFromFile.ts';
import { add } from '../../maths/vec3.ts';
import {
  estimateMounting,
  type MountingEstimate,
  type MountingOptions,
} from '../../place/mounting/estimateMounting.ts';
import { type FlightViews, type SurveyedLamp, viewsOfFlight } from '../../place/mounting/viewsOfFlight.ts';
import { checkGains } from '../../recording/checkGains.ts';
import { checkRigFits } from '../../recording/checkRigFits.ts';
import { readJsonFile } from '../../recording/jsonFile.ts';
import { readRig } from '../../recording/readRig.ts';
import { readSurveyedPoints } from '../../recording/surveyedPoints.ts';
import { writeFileAtomically } from '../../recording/writeFileAtomically.ts';
import { type MountingDocument, serialiseMounting } from '../../rig/mountingFile.ts';
import { mountingFromRig } from '../../rig/mountingFromRig.ts';
import type { SearchCorridor } from '../../sighting/EventRays.ts';
import { collectEvents } from '../inspect/collectEvents.ts';
import { detectSightings, poseEvents } from '../inspect/detectSightings.ts';
import { openAnyFlight } from '../inspect/openAnyFlight.ts';
import { originFor } from '../inspect/openInspection.ts';
import { PARAMETERS } from '../inspect/parameters.ts';
import { systematicErrors } from '../inspect/systematicErrors.ts';
import { Interrupted, type JobWatch } from '../JobWatch.ts';
import { registrationForRig } from '../registrationForRig.ts';
import { mountingDocumentOf } from './mountingDocumentOf.ts';

export interface MountingJobOptions extends MountingOptions {
  readonly rigFile: string;
  readonly registrationFile: string;
  /** null: lights are sought at any place within range. */
  readonly lineFile: string | null;
  /** null: no lamps with known coordinates. */
  readonly surveyedFile: string | null;
  readonly outFile: string;
  readonly falseAlarmsPerHour: number;
}

export type MountingOutcome =
  | {
      readonly kind: 'refused';
      readonly because: Extract<MountingEstimate, { kind: 'refused' }>['because'];
      readonly leftOut: FlightViews['leftOut'];
    }
  | { readonly kind: 'estimated'; readonly document: MountingDocument; readonly file: string };

/**
 * Measures the mounting of the uv camera from one flight and writes `mounting.json`. Nothing is written where the flight does
 * not allow an estimate. A run that was stopped goes on with the photon events that it has.
 */
export async function measureMounting(
  flightFolder: string,
  options: MountingJobOptions,
  watch: JobWatch,
): Promise<MountingOutcome> {
  const flight = await openAnyFlight(flightFolder);
  const { rig, hash: rigHash } = await readRig(options.rigFile);
  checkRigFits(rig, flight.description, join(flightFolder, 'flight.json'));
  checkGains(
    flight.uvIndex,
    join(flightFolder, flight.description.streams.uv.index),
    rig.cameras.uv.gainCurve.map((point) => point.gain),
  );
  const registration = await registrationForRig(options.registrationFile, rig);
  const mounting = mountingFromRig(rig);
  const lineJson = options.lineFile ? await readJsonFile(options.lineFile) : null;
  const frame = localFrameAt(originFor(flight, lineJson?.value));
  const lamps: SurveyedLamp[] = options.surveyedFile
    ? (await readSurveyedPoints(options.surveyedFile)).map(({ id, latDeg, lonDeg, heightM, sigmaM }) => ({
        id,
        positionEnuM: frame.enuFromLlh([lonDeg, latDeg, heightM]),
        sigmaM,
      }))
    : [];
  const surveyedHash = options.surveyedFile
    ? createHash('sha256')
        .update(await readFile(options.surveyedFile))
        .digest('hex')
    : null;

  await mkdir(dirname(options.outFile), { recursive: true });
  const workFolder = `${options.outFile}.${flight.contentHash.slice(0, 12)}-${rigHash.slice(0, 12)}.work`;
  const { events } = await collectEvents(flight, rig.cameras.uv, workFolder, watch);
  const stage = async (done: number): Promise<void> => {
    watch.progress('mounting', done, 3, 'steps');
    await new Promise((resolve) => setImmediate(resolve));
    if (watch.signal?.aborted) throw new Interrupted();
  };
  await stage(0);
  const under = { flight, rig, registration, mounting, frame };
  const posed = poseEvents(under, events);
  const reach = {
    radiusM: PARAMETERS.corridorRadiusM,
    nearestM: PARAMETERS.nearestM,
    farthestM: PARAMETERS.farthestM,
  };
  const line = lineJson ? corridorOf(lineModelFromFile(lineJson.value, options.lineFile ?? '', frame), reach) : null;
  const corridor: SearchCorridor = line ? withLamps(line, lamps) : { segments: [], ...reach };
  const report = detectSightings(under, events, posed, corridor, options.falseAlarmsPerHour);
  await stage(1);
  const { name } = flight.description;
  const seen = viewsOfFlight(
    {
      flight: name,
      track: posed.track,
      sightings: report.sightings,
      rays: posed.rays,
      poses: posed.poses,
      errorsAt: (tNs) => systematicErrors(posed.track, tNs, mounting, registration),
    },
    lamps,
  );
  await stage(2);
  const estimate = estimateMounting(mounting, seen.points, seen.views, options);
  watch.progress('mounting', 3, 3, 'steps');
  if (estimate.kind === 'refused') return { kind: 'refused', because: estimate.because, leftOut: seen.leftOut };
  const document = mountingDocumentOf(estimate, seen, mounting, rig.id, {
    flight: name,
    flightHash: flight.contentHash,
    rigHash,
    registrationHash: registration.hash,
    surveyedHash,
  });
  await writeFileAtomically(options.outFile, serialiseMounting(document));
  await rm(workFolder, { recursive: true, force: true });
  return { kind: 'estimated', document, file: options.outFile };
}

/** Lamps stand beside the line as well as on it: each is a piece of corridor of its own. */
function withLamps(corridor: SearchCorridor, lamps: readonly SurveyedLamp[]): SearchCorridor {
  const upright = 0.01;
  return {
    ...corridor,
    segments: [
      ...corridor.segments,
      ...lamps.map(({ positionEnuM }) => ({
        fromEnuM: add(positionEnuM, [0, 0, -upright]),
        toEnuM: add(positionEnuM, [0, 0, upright]),
      })),
    ],
  };
}
