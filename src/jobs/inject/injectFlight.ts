import { existsSync } from 'node:fs';
import { join } from 'node:path';
import type { CampaignStore } from '../../campaign/CampaignStore.ts';
import type { FlightRecord } from '../../campaign/records.ts';
import { ultravioletExtinction } from '../../earth/ultravioletExtinction.ts';
import { eventsPerPhotonAt } from '../../grade/estimatePhotonRate.ts';
import { InputError } from '../../input/InputError.ts';
import { corridorOf } from '../../line/corridorOf.ts';
import type { LineComponent } from '../../line/LineModel.ts';
import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import { meanChargeDn } from '../../photon/UvCamera.ts';
import { readPhotonEvents } from '../../recording/photonEventTable.ts';
import { framePoses } from '../../sighting/framePoses.ts';
import type { SearchedFlight } from '../../sighting/tryInjection.ts';
import { buildTrack } from '../../trajectory/buildTrack.ts';
import { fileNameOf } from '../inspect/inspectFlight.ts';
import { type Inspection, openInspection } from '../inspect/openInspection.ts';
import { PARAMETERS } from '../inspect/parameters.ts';
import { meanFoundShare, singleEvents } from '../inspect/singleEvents.ts';
import { sunOverFlight } from '../inspect/sunOverFlight.ts';
import type { JobWatch } from '../JobWatch.ts';
import { type ComponentInjection, injectComponent } from './injectComponent.ts';
import { openFrameInjection } from './injectIntoFrames.ts';

export interface InjectOptions {
  readonly campaignFile: string;
  readonly rigFile: string;
  readonly lineFile: string | null;
  readonly registrationFile: string | null;
  readonly mountingFile: string | null;
  /** Components by id; empty: one piece of hardware at each tower. */
  readonly componentIds: readonly string[];
  /** Places along each component's axis, 0 to 1; empty: its least well seen place. */
  readonly along: readonly number[];
  /** Photons per second; empty: from a quarter to twice the analytic limit of each place. */
  readonly ratesHz: readonly number[];
  /** Times that each rate is tried. */
  readonly trials: number;
  /** Mean size of the bunches in which events come; 1 = Poisson. */
  readonly bunch: number;
  /** Light of one half-wave of the mains alone. */
  readonly onMains: boolean;
  /** Share of single events that the finder finds; null: from the flight's own charges. */
  readonly finderEfficiency: number | null;
  /** Photons are added to the images and found there again, instead of events to the flight's own. */
  readonly intoFrames: boolean;
  readonly seed: number;
}

export interface InjectOutcome {
  readonly flight: string;
  readonly threshold: number;
  readonly falseAlarmsPerHour: number;
  readonly backgroundPerFrame: number;
  readonly finderEfficiency: number;
  readonly trials: number;
  readonly bunch: number;
  readonly onMains: boolean;
  readonly intoFrames: boolean;
  readonly components: readonly ComponentInjection[];
}

/**
 * Detection probability by injection: synthetic discharges are added to the flight's own events and searched for with the
 * flight's own threshold. The flight must have been inspected into the campaign; the campaign is not changed.
 */
export async function injectFlight(
  flightFolder: string,
  options: InjectOptions,
  watch: JobWatch,
): Promise<InjectOutcome> {
  if (!existsSync(options.campaignFile))
    throw new InputError({
      file: options.campaignFile,
      found: 'no such file',
      expected: 'a campaign into which the flight was inspected',
      todo: 'Run corposant inspect first.',
    });
  const inspection = await openInspection(flightFolder, {
    ...options,
    rulesFile: null,
    falseAlarmsPerHour: 1,
    again: false,
  });
  try {
    const record = inspectedFlight(inspection.store, inspection.flight.description.name, options.campaignFile);
    checkSameInputs(inspection, record, options.campaignFile);
    const eventsFile = join(
      `${options.campaignFile.replace(/\.gpkg$/i, '')}.events`,
      `${fileNameOf(record.name)}.parquet`,
    );
    const events = await readPhotonEvents(eventsFile);
    const flight = searchedFlight(inspection, events, Number(record.quality.detectionThresholdLogLikelihood));
    const inSightings = inspection.store
      .sightings()
      .reduce((sum, sighting) => sum + (sighting.flight === record.name ? sighting.events : 0), 0);
    const backgroundPerFrame = (events.count - inSightings) / Math.max(1, flight.poses.count);
    const finderEfficiency = options.finderEfficiency ?? foundShareOf(inspection, events);
    const { uv } = inspection.rig.cameras;
    const { conditions, streams } = inspection.flight.description;
    const extinctionPerKm = ultravioletExtinction(conditions, uv.bandNm).perKm;
    const components = chosenComponents(inspection, options.componentIds, options.lineFile ?? options.campaignFile);
    const frames = options.intoFrames ? await openFrameInjection(inspection, events) : null;
    const results: ComponentInjection[] = [];
    const places = components.flatMap((component) =>
      (options.along.length > 0 ? options.along : [null]).map((along) => ({ component, along })),
    );
    for (const [i, { component, along }] of places.entries()) {
      watch.progress('injection', i, places.length, 'places');
      results.push(
        await injectComponent(component, inspection.line, flight, {
          ...options,
          along,
          eventsPerPhotonAt: (rangeM) =>
            eventsPerPhotonAt(rangeM, {
              apertureMm: uv.apertureMm,
              eventsPerPhoton: uv.eventsPerPhoton,
              extinctionPerKm,
            }),
          finderEfficiency,
          backgroundPerFrame,
          spotSigmaPx: uv.spotSigmaPx,
          exposureS: inspection.flight.uvIndex[0].exposureNs * 1e-9,
          frameRateHz: streams.uv.frameRateHz,
          mainsHz: conditions.mainsHz,
          tryOne: frames?.tryOne,
          watch,
        }),
      );
    }
    watch.progress('injection', places.length, places.length, 'places');
    return {
      flight: record.name,
      threshold: flight.threshold,
      falseAlarmsPerHour: record.falseAlarmsPerHourAsked,
      backgroundPerFrame,
      finderEfficiency,
      trials: options.trials,
      bunch: options.bunch,
      onMains: options.onMains,
      intoFrames: options.intoFrames,
      components: results,
    };
  } finally {
    inspection.store.close();
  }
}

function foundShareOf({ rig, flight }: Inspection, events: PhotonEvents): number {
  const gainOfFrame = (f: number): number => flight.uvIndex[f].gain;
  // Events of sightings are few among the background's.
  const single = singleEvents(events, gainOfFrame, (gain) => meanChargeDn(rig.cameras.uv, gain), new Set());
  return meanFoundShare(single, events, gainOfFrame);
}

function inspectedFlight(store: CampaignStore, name: string, file: string): FlightRecord {
  const record = store.flights().find((flight) => flight.name === name);
  if (record && Number.isFinite(Number(record.quality.detectionThresholdLogLikelihood))) return record;
  throw new InputError({
    file,
    found: `no inspection of flight '${name}'`,
    expected: 'a campaign into which the flight was inspected',
    todo: 'Run corposant inspect on this flight first.',
  });
}

/** Limits hold for what was inspected: the same frames, rig and registration. */
function checkSameInputs({ provenance }: Inspection, record: FlightRecord, file: string): void {
  for (const [what, key] of [
    ['flight', 'flightHash'],
    ['rig', 'rigHash'],
    ['registration', 'registrationHash'],
  ] as const)
    if (provenance[key] !== record.provenance[key])
      throw new InputError({
        file,
        field: what,
        found: `an inspection with ${what} ${record.provenance[key].slice(0, 12)}, not ${provenance[key].slice(0, 12)}`,
        expected: `the ${what} that flight '${record.name}' was inspected with`,
        todo: `Give the same ${what} as to corposant inspect, or inspect again.`,
      });
}

function searchedFlight(inspection: Inspection, events: PhotonEvents, threshold: number): SearchedFlight {
  const { flight, rig, registration, mounting, frame, line } = inspection;
  const track = buildTrack(flight.trajectory, frame, { file: join(flight.folder, flight.description.trajectory.file) });
  const { poses } = framePoses(track, mounting, flight.uvIndex);
  return {
    events,
    poses,
    lens: registration.model.uv,
    corridor: corridorOf(line, {
      radiusM: PARAMETERS.corridorRadiusM,
      nearestM: PARAMETERS.nearestM,
      farthestM: PARAMETERS.farthestM,
    }),
    threshold,
    blurSigmaPx: rig.cameras.uv.blurSigmaPx,
    sunAt: sunOverFlight(flight, frame),
  };
}

/** Named components, or the first piece of hardware of each tower. */
function chosenComponents({ line }: Inspection, ids: readonly string[], file: string): LineComponent[] {
  if (ids.length > 0)
    return ids.map((id) => {
      const component = line.components.find((c) => c.id === id);
      if (component) return component;
      throw new InputError({
        file,
        field: 'components',
        found: `no component '${id}'`,
        expected: 'the id of a component of the line',
        todo: 'See the components layer of the campaign for ids.',
      });
    });
  return line.structures.flatMap(
    ({ id }) => line.components.find((c) => c.structureIds.length === 1 && c.structureIds[0] === id) ?? [],
  );
}
