import { createHash } from 'node:crypto';
import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type { CampaignStore } from '../../campaign/CampaignStore.ts';
import { openGeoPackageCampaign } from '../../campaign/openGeoPackageCampaign.ts';
import type {
  ChangeRecord,
  ComparisonRecord,
  CoverageRecord,
  DischargeRecord,
  FindingRecord,
  FlightRecord,
  InspectionSettings,
  ReviewEntry,
  SightingRays,
  SightingRecord,
} from '../../campaign/records.ts';
import { conditionsOf, type RuleCondition } from '../../grade/conditionsOf.ts';
import type { Rule } from '../../grade/RuleTable.ts';
import { InputError } from '../../input/InputError.ts';
import type { LineComponent } from '../../line/LineModel.ts';

/** A sighting with the rays that it rests on, as rows of the flight's event table. */
export interface TracedSighting extends SightingRecord {
  /** null: inspected by a release that did not keep them. */
  readonly rays: SightingRays | null;
}

/** Whether the table of photon events beside the campaign is still the one that was inspected. */
export type EventTableState =
  | { readonly kind: 'as inspected'; readonly file: string }
  | { readonly kind: 'altered'; readonly file: string }
  | { readonly kind: 'missing'; readonly file: string }
  | { readonly kind: 'not recorded' };

export interface TracedFlight {
  readonly flight: FlightRecord;
  readonly settings: InspectionSettings | null;
  readonly eventTable: EventTableState;
}

/** Everything that a finding rests on. */
export interface FindingTrace {
  readonly campaign: string;
  readonly finding: FindingRecord;
  readonly component: LineComponent | null;
  readonly discharge: DischargeRecord;
  /** The rule that fired, each of its conditions with the value that met it; null where its table was not kept. */
  readonly rule: { readonly table: string; readonly rule: Rule; readonly met: readonly RuleCondition[] } | null;
  readonly sightings: readonly TracedSighting[];
  readonly flights: readonly TracedFlight[];
  readonly evidence: readonly { readonly utc: string; readonly colourFrame: number; readonly rangeM: number }[];
  readonly coverage: CoverageRecord | null;
  readonly change: ChangeRecord | null;
  readonly comparison: ComparisonRecord | null;
  readonly review: readonly ReviewEntry[];
}

/**
 * Why a finding is where it is. @param findingId its id, or the number it has in the report (F3)
 * @throws InputError where the campaign has no such finding
 */
export function traceFinding(campaignFile: string, findingId: string, numberOf: NumberOf): FindingTrace {
  const store = openGeoPackageCampaign(campaignFile, { create: false });
  try {
    return trace(store, campaignFile, numberOf(store, findingId) ?? findingId);
  } finally {
    store.close();
  }
}

/** Id of the finding that has this number in the report, or null where it is no such number. */
export type NumberOf = (store: CampaignStore, number: string) => string | null;

function trace(store: CampaignStore, campaignFile: string, id: string): FindingTrace {
  const finding = store.findings().find((one) => one.id === id);
  const discharge = store.discharges().find((one) => one.id === id);
  if (finding === undefined || discharge === undefined) {
    const known = store.findings().map((one) => one.id);
    throw new InputError({
      file: campaignFile,
      field: 'finding',
      found: `'${id}'`,
      expected:
        known.length === 0 ? 'a finding, of which this campaign has none' : `one of ${known.slice(0, 12).join(', ')}`,
      todo: 'Give the id of a finding, or its number in the report (F1, F2 ...).',
    });
  }
  const component = store.line().components.find((one) => one.id === finding.componentId) ?? null;
  const sightings = store
    .sightings()
    .filter(({ dischargeId }) => dischargeId === id)
    .map((sighting): TracedSighting => ({ ...sighting, rays: store.raysOf(sighting.id) }));
  const names = [...new Set(sightings.map(({ flight }) => flight))];
  const flights = store
    .flights()
    .filter(({ name }) => names.includes(name))
    .map((flight): TracedFlight => {
      const settings = store.settingsOf(flight.name);
      return { flight, settings, eventTable: eventTableOf(campaignFile, settings) };
    });
  const change = store.changes().find(({ laterId }) => laterId === id) ?? null;
  const rules = flights.flatMap(({ settings }) => settings?.rules ?? [])[0];
  const rule = rules?.rules.find(({ name }) => name === finding.grade.rule);
  return {
    campaign: store.about()?.name ?? '',
    finding,
    component,
    discharge,
    rule:
      rules === undefined || rule === undefined
        ? null
        : {
            table: rules.name,
            rule,
            met: conditionsOf(rule, {
              componentKind: component?.kind ?? null,
              componentProbability: finding.componentProbability,
              rate: discharge.rate,
              expectedness: finding.grade.expectedness,
              passes: discharge.passes,
              change: change?.change ?? 'first campaign',
            }),
          },
    sightings,
    flights,
    evidence: store.evidenceOf(id).map(({ utc, colourFrame, rangeM }) => ({ utc, colourFrame, rangeM })),
    coverage: store.coverage().find(({ componentId }) => componentId === finding.componentId) ?? null,
    change,
    comparison: store.comparison(),
    review: store.reviewLog().filter(({ findingId }) => findingId === id),
  };
}

function eventTableOf(campaignFile: string, settings: InspectionSettings | null): EventTableState {
  if (settings === null) return { kind: 'not recorded' };
  const file = join(dirname(campaignFile), settings.eventsFile);
  if (!existsSync(file)) return { kind: 'missing', file };
  const hash = createHash('sha256').update(readFileSync(file)).digest('hex');
  return { kind: hash === settings.eventsHash ? 'as inspected' : 'altered', file };
}
