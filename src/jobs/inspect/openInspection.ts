import { createHash } from 'node:crypto';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import type { CampaignStore } from '../../campaign/CampaignStore.ts';
import { openGeoPackageCampaign } from '../../campaign/openGeoPackageCampaign.ts';
import type { Provenance } from '../../campaign/records.ts';
import type { Llh } from '../../earth/Llh.ts';
import { type LocalFrame, localFrameAt } from '../../earth/LocalFrame.ts';
import { DEFAULT_RULES, type RuleTable, ruleTable } from '../../grade/RuleTable.ts';
import { InputError } from '../../input/InputError.ts';
import { parseWith } from '../../input/parseWith.ts';
import type { LineModel } from '../../line/LineModel.ts';
import { lineModelFromFile } from '../../line/lineModelFromFile.ts';
import { type PointResponse, pointResponse } from '../../photon/response/pointResponse.ts';
import { checkGains } from '../../recording/checkGains.ts';
import { checkRigFits } from '../../recording/checkRigFits.ts';
import { readJsonFile } from '../../recording/jsonFile.ts';
import type { RigDescription } from '../../recording/RigDescription.ts';
import { readRig } from '../../recording/readRig.ts';
import type { Mounting } from '../../rig/Mounting.ts';
import { mountingFromRig } from '../../rig/mountingFromRig.ts';
import type { Registration } from '../../rig/Registration.ts';
import { mountingForRig } from '../mountingForRig.ts';
import { registrationForRig } from '../registrationForRig.ts';
import { rigAsMeasured } from '../response/rigAsMeasured.ts';
import { SOFTWARE } from '../software.ts';
import type { InspectOptions } from './InspectOptions.ts';
import { type InspectableFlight, openAnyFlight } from './openAnyFlight.ts';
import { PARAMETERS } from './parameters.ts';

/** Everything an inspection starts from, opened and checked against each other. */
export interface Inspection {
  readonly flight: InspectableFlight;
  readonly rig: RigDescription;
  readonly registration: Registration;
  readonly registrationIsNominal: boolean;
  readonly mounting: Mounting;
  readonly frame: LocalFrame;
  readonly line: LineModel;
  readonly rules: RuleTable;
  /** Of the ultraviolet camera to a point of light, where its flat field was measured. */
  readonly pointResponse: PointResponse | null;
  /** All that the inspection assumes beside its inputs; `parametersHash` names it in brief. */
  readonly parameters: Readonly<Record<string, unknown>>;
  readonly provenance: Provenance;
  readonly store: CampaignStore;
}

const NO_LINE: LineModel = { name: 'line not given', owner: '', voltageKv: 0, structures: [], components: [] };

/** Opens flight, rig, registration, line and campaign. The caller closes the store. */
export async function openInspection(flightPath: string, options: InspectOptions): Promise<Inspection> {
  const flight = await openAnyFlight(flightPath);
  const stated = await readRig(options.rigFile);
  const rigHash = stated.hash;
  const response = options.responseFile ? await rigAsMeasured(stated.rig, options.responseFile) : null;
  const rig = response?.rig ?? stated.rig;
  checkRigFits(rig, flight.description, flight.descriptionFile);
  checkGains(
    flight.uvIndex,
    flight.recorded ? flightPath : join(flightPath, flight.description.streams.uv.index),
    rig.cameras.uv.gainCurve.map((point) => point.gain),
  );
  const registration = await registrationForRig(options.registrationFile, rig);
  const measured = options.mountingFile ? await mountingForRig(options.mountingFile, rig, registration) : null;
  const lineJson = options.lineFile ? await readJsonFile(options.lineFile) : null;
  const rulesJson = options.rulesFile ? await readJsonFile(options.rulesFile) : null;
  const rules = rulesJson ? parseWith(ruleTable, rulesJson.value, options.rulesFile ?? '') : DEFAULT_RULES;

  const isNew = !existsSync(options.campaignFile);
  const store = openGeoPackageCampaign(options.campaignFile, { create: true });
  try {
    const about = isNew ? null : store.about();
    const originLlh = about?.originLlh ?? originFor(flight, lineJson?.value);
    const frame = localFrameAt(originLlh);
    const line = lineJson
      ? lineModelFromFile(lineJson.value, options.lineFile ?? '', frame)
      : about
        ? store.line()
        : NO_LINE;
    const lineHash = lineJson?.hash ?? about?.lineHash ?? 'none';
    if (!about) store.initialise({ name: line.name, originLlh, line, lineHash });
    else if (about.lineHash !== lineHash)
      throw new InputError({
        file: options.lineFile ?? options.campaignFile,
        found: `a line model other than the campaign's (${lineHash.slice(0, 12)} against ${about.lineHash.slice(0, 12)})`,
        expected: 'the line model that the campaign was begun with',
        todo: 'Give that line model, or begin a new campaign file.',
      });
    const parameters = {
      ...PARAMETERS,
      falseAlarmsPerHour: options.falseAlarmsPerHour,
      rules: rulesJson?.hash ?? 'as shipped',
      ...(options.asMounted ? { asMounted: true } : {}),
      ...(measured ? { mounting: measured.hash } : {}),
      ...(response ? { response: response.hash, flatField: response.flatField ? 'measured' : 'taken as even' } : {}),
    };
    return {
      flight,
      rig,
      registration,
      registrationIsNominal: options.registrationFile === null,
      mounting: measured?.mounting ?? mountingFromRig(rig),
      frame,
      line,
      rules,
      pointResponse: response?.flatField ? pointResponse(response.flatField, registration.model.uv) : null,
      parameters,
      provenance: {
        software: SOFTWARE,
        registrationHash: registration.hash,
        rigHash,
        lineHash,
        flightHash: flight.contentHash,
        parametersHash: createHash('sha256').update(JSON.stringify(parameters)).digest('hex'),
      },
      store,
    };
  } catch (error) {
    store.close();
    throw error;
  }
}

/** The origin of a new campaign's frame: where the line begins, or the flight, rounded so that it reads well. */
export function originFor(flight: InspectableFlight, line: unknown): Llh {
  const first = (line as { structures?: { positionLlh?: unknown }[] } | undefined)?.structures?.[0]?.positionLlh;
  const given =
    Array.isArray(first) && first.length === 3 && first.every(Number.isFinite)
      ? (first as [number, number, number])
      : ([flight.trajectory.lonDeg[0], flight.trajectory.latDeg[0], flight.trajectory.heightM[0]] as const);
  return [Number(given[0].toFixed(4)), Number(given[1].toFixed(4)), Math.round(given[2])];
}
