import { createHash } from 'node:crypto';
import { mkdir, readFile, rm, rmdir } from 'node:fs/promises';
import { dirname, join, relative, sep } from 'node:path';
import type { FlightPlacing } from '../../campaign/records.ts';
import { corridorOf } from '../../line/corridorOf.ts';
import { meanChargeDn } from '../../photon/UvCamera.ts';
import { depthFromLine } from '../../place/depthFromLine.ts';
import { errorEllipsoid } from '../../place/errorEllipsoid.ts';
import { gatherDischarges, type SightingToPlace } from '../../place/gatherDischarges.ts';
import type { PlacingOptions } from '../../place/placeSighting.ts';
import { placingMaterial } from '../../place/placingMaterial.ts';
import { writePhotonEvents } from '../../recording/photonEventTable.ts';
import type { SearchCorridor } from '../../sighting/EventRays.ts';
import { Interrupted, type JobWatch } from '../JobWatch.ts';
import { collectEvents } from './collectEvents.ts';
import { composeResult, slug } from './composeResult.ts';
import { detectSightings, poseEvents } from './detectSightings.ts';
import type { InspectOptions } from './InspectOptions.ts';
import { joinFlights } from './joinFlights.ts';
import { mountingCorrectionText } from './mountingCorrectionText.ts';
import { type Inspection, openInspection } from './openInspection.ts';
import { PARAMETERS } from './parameters.ts';
import { raysOfSightings } from './raysOfSightings.ts';
import { settingsOfInspection } from './settingsOfInspection.ts';
import { singleEvents } from './singleEvents.ts';
import { systematicErrors } from './systematicErrors.ts';

/** What an inspection found, in brief; the campaign holds the rest. */
export interface InspectOutcome {
  readonly flight: string;
  readonly alreadyInspected: boolean;
  readonly uvFrames: number;
  readonly photonEvents: number;
  readonly sightings: number;
  readonly suspects: number;
  /** What became of small corrections to boresight and time offset. */
  readonly mountingCorrection: string;
  readonly findings: readonly {
    readonly id: string;
    readonly priority: string;
    readonly componentId: string | null;
    readonly componentProbability: number;
    /** Longest half-axis of the 95 % ellipsoid. */
    readonly accuracy95M: number;
    readonly rateHz: number;
    readonly passes: number;
  }[];
}

/**
 * Inspects one flight into a campaign: photon events, sightings, positions, components, rates, grades, evidence, coverage.
 * The campaign changes in one transaction at the end. Photon events are kept beside it as Parquet. A run that was stopped
 * goes on where it was; one that is repeated finds the flight done; the same input into a new file gives the same bytes.
 */
export async function inspectFlight(
  flightPath: string,
  options: InspectOptions,
  watch: JobWatch,
): Promise<InspectOutcome> {
  await mkdir(dirname(options.campaignFile), { recursive: true });
  const inspection = await openInspection(flightPath, options);
  const { store, flight, provenance } = inspection;
  try {
    const { name } = flight.description;
    const before = store.inspectionOf(name);
    if (!options.again && before && JSON.stringify(before) === JSON.stringify(provenance))
      return outcomeFrom(inspection, true);
    if (inspection.registrationIsNominal)
      watch.note('No registration given: nominal lenses serve, and positions are as uncertain as those are.');
    for (const note of flight.notes) watch.note(note);
    await inspect(inspection, options, watch);
    return outcomeFrom(inspection, false);
  } finally {
    store.close();
    await flight.close();
  }
}

/** What all flights of the campaign say together, where there is another that can be placed with this one. */
function withOtherFlights(
  placing: FlightPlacing,
  { store, line, rules, frame }: Inspection,
  options: PlacingOptions,
  watch: JobWatch,
): ReturnType<typeof joinFlights> | null {
  const others = store.flightPlacings().filter((other) => other.flight !== placing.flight);
  const known = new Set([placing.flight, ...others.map((other) => other.flight)]);
  for (const { name } of store.flights())
    if (!known.has(name))
      watch.note(
        `${name} was inspected by an earlier release: its findings stand by themselves until it is inspected again.`,
      );
  return others.length > 0 ? joinFlights([...others, placing], { line, rules, frame }, options) : null;
}

async function inspect(inspection: Inspection, options: InspectOptions, watch: JobWatch): Promise<void> {
  const { flight, rig, registration, mounting, line, provenance } = inspection;
  const { name } = flight.description;
  const stem = options.campaignFile.replace(/\.gpkg$/i, '');
  // The events depend on frames, rig and software alone: their work folder is named after those.
  const workFolder = join(`${stem}.work`, `${provenance.flightHash.slice(0, 12)}-${provenance.rigHash.slice(0, 12)}`);
  const { events, finder } = await collectEvents(flight, rig.cameras.uv, workFolder, watch, options.threads);
  const eventsFile = join(`${stem}.events`, `${fileNameOf(name)}.parquet`);
  await mkdir(dirname(eventsFile), { recursive: true });
  await writePhotonEvents(eventsFile, events);
  const eventsHash = createHash('sha256')
    .update(await readFile(eventsFile))
    .digest('hex');

  const stages = 5;
  const stage = async (done: number): Promise<void> => {
    watch.progress('detection and placing', done, stages, 'steps');
    // Lets a Ctrl-C in between two steps.
    await new Promise((resolve) => setImmediate(resolve));
    if (watch.signal?.aborted) throw new Interrupted();
  };
  await stage(0);
  const posed = poseEvents(inspection, events);
  const { track, poses, refused, rays } = posed;
  const corridor: SearchCorridor = corridorOf(line, {
    radiusM: PARAMETERS.corridorRadiusM,
    nearestM: PARAMETERS.nearestM,
    farthestM: PARAMETERS.farthestM,
  });
  await stage(1);
  const report = detectSightings(inspection, events, posed, corridor, options.falseAlarmsPerHour);
  await stage(2);
  const believed = report.sightings.filter((sighting) => sighting.suspicions.length === 0);
  const toPlace: SightingToPlace[] = believed.map((sighting) => ({
    flight: name,
    sighting,
    rays,
    poses,
    errors: systematicErrors(track, (sighting.fromNs + sighting.toNs) / 2, mounting, registration, {
      exposureS: flight.uvIndex[0].exposureNs * 1e-9,
      mainsHz: flight.description.conditions.mainsHz,
      frameRateHz: flight.description.streams.uv.frameRateHz,
      watchedS: (sighting.toNs - sighting.fromNs) * 1e-9,
    }),
  }));
  const placingOptions: PlacingOptions = {
    asMounted: options.asMounted === true,
    ...(line.components.length > 0
      ? {
          depthFromLine: (originEnuM, directionEnu, sigmaRad) =>
            depthFromLine(line, originEnuM, directionEnu, sigmaRad, PARAMETERS.nearestM, PARAMETERS.farthestM),
        }
      : {}),
  };
  const gathering = gatherDischarges(toPlace, placingOptions);
  await stage(3);
  const explained = new Set<number>();
  for (const sighting of report.sightings)
    sighting.rays.forEach((ray, i) => {
      if (sighting.membership[i] > 0.1) explained.add(rays.event[ray]);
    });
  const gainOfFrame = (f: number): number => flight.uvIndex[f].gain;
  const single = singleEvents(events, gainOfFrame, (gain) => meanChargeDn(rig.cameras.uv, gain), explained);
  const result = await composeResult({
    inspection,
    options,
    events,
    finder,
    track,
    mounting,
    poses,
    rays,
    refused,
    report,
    gathering,
    explained,
    single,
    watch,
  });
  await stage(4);
  const placing: FlightPlacing = {
    flight: name,
    startUtc: result.flight.startUtc,
    conditions: flight.description.conditions,
    sightings: toPlace.map((input) => placingMaterial(input, `${slug(name)}-${input.sighting.id}`)),
    own: result.discharges.map((record, i) => ({
      sightingIds: result.sightings.filter((s) => s.dischargeId === record.id).map((s) => s.id),
      record,
      finding: result.findings[i],
    })),
  };
  const together = withOtherFlights(placing, inspection, placingOptions, watch);
  const correction = together?.correction ?? gathering.correction;
  inspection.store.saveInspection({
    ...result,
    placing,
    ...(together ? { discharges: together.discharges, findings: together.findings, joint: together.joint } : {}),
    flight: {
      ...result.flight,
      quality: { ...result.flight.quality, mountingCorrection: mountingCorrectionText(correction) },
    },
    rays: raysOfSightings(name, report.sightings, rays, events),
    settings: settingsOfInspection(inspection, correction, {
      eventsFile: relative(dirname(options.campaignFile), eventsFile).split(sep).join('/'),
      eventsHash,
    }),
  });
  watch.progress('detection and placing', stages, stages, 'steps');
  await rm(workFolder, { recursive: true, force: true });
  await rmdir(`${stem}.work`).catch(() => undefined); // stays while another flight is being worked on
}

export const fileNameOf = (name: string): string => name.replace(/[^\p{L}\p{N}._-]+/gu, '-');

function outcomeFrom({ store, flight }: Inspection, alreadyInspected: boolean): InspectOutcome {
  const { name } = flight.description;
  const sightings = store.sightings().filter((sighting) => sighting.flight === name);
  const mine = new Set(sightings.flatMap((sighting) => (sighting.dischargeId ? [sighting.dischargeId] : [])));
  const findings = new Map(store.findings().map((finding) => [finding.id, finding]));
  const record = store.flights().find((one) => one.name === name);
  return {
    flight: name,
    alreadyInspected,
    uvFrames: flight.uvIndex.length,
    photonEvents: record?.photonEvents ?? 0,
    mountingCorrection: String(record?.quality.mountingCorrection ?? 'not asked for by the release that inspected it'),
    sightings: sightings.length,
    suspects: sightings.filter((sighting) => sighting.suspicions.length > 0).length,
    findings: store
      .discharges()
      .filter((discharge) => mine.has(discharge.id))
      .map((discharge) => ({
        id: discharge.id,
        priority: findings.get(discharge.id)?.grade.priority ?? '',
        componentId: findings.get(discharge.id)?.componentId ?? null,
        componentProbability: findings.get(discharge.id)?.componentProbability ?? 0,
        accuracy95M: errorEllipsoid(discharge.covarianceEnuM2).halfAxesM[0],
        rateHz: discharge.rate.rateHz,
        passes: discharge.passes,
      })),
  };
}
