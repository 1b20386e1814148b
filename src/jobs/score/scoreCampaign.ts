import { openGeoPackageCampaign } from '../../campaign/openGeoPackageCampaign.ts';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { InputError } from '../../input/InputError.ts';
import { type ChangeScore, scoreChanges } from './scoreChanges.ts';
import {
  type FoundDischarge,
  type Score,
  type ScoreSummary,
  scoreFindings,
  summariseScores,
  type TrueDischarge,
} from './scoreFindings.ts';
import { readTruth, type Truth } from './Truth.ts';

export interface CampaignScore {
  readonly score: Score;
  readonly summary: ScoreSummary;
  /** Traps of the truth: what became of each. */
  readonly traps: readonly { readonly id: string; readonly trap: string; readonly becameFinding: string | null }[];
  readonly flights: number;
  /** Of the second year of an invented world, where a comparison was made; null otherwise. */
  readonly changes: ChangeScore | null;
}

/** Compares a campaign's findings with the truth of an invented flight. Reads only. */
export async function scoreCampaign(campaignFile: string, truthFile: string): Promise<CampaignScore> {
  const truth = await readTruth(truthFile);
  const store = openGeoPackageCampaign(campaignFile, { create: false });
  try {
    const about = store.about();
    if (!about)
      throw new InputError({
        file: campaignFile,
        found: 'an empty campaign',
        expected: 'an inspected flight',
        todo: 'Run `corposant inspect` first.',
      });
    const frame = localFrameAt(about.originLlh);
    const findings = new Map(store.findings().map((finding) => [finding.id, finding]));
    const found: FoundDischarge[] = store
      .discharges()
      .filter((discharge) => findings.has(discharge.id))
      .map((discharge) => ({
        id: discharge.id,
        positionEnuM: discharge.positionEnuM,
        covarianceEnuM2: discharge.covarianceEnuM2,
        componentId: findings.get(discharge.id)?.componentId ?? null,
        componentProbability: findings.get(discharge.id)?.componentProbability ?? 0,
        probabilityOf: (componentId) =>
          discharge.attribution.candidates.find((c) => c.componentId === componentId)?.probability ?? 0,
        rateHz: discharge.rate.rateHz,
        rateInterval: discharge.rate.interval,
      }));
    const score = scoreFindings(trueDischarges(truth, frame.enuFromLlh), found);
    const traps = truth.sources
      .filter((source) => source.kind === 'trap')
      .map((source) => {
        const positionLlh = source.positionLlh;
        const near = positionLlh
          ? score.falseAlarms.find(
              (f) => Math.hypot(...f.positionEnuM.map((x, i) => x - frame.enuFromLlh(positionLlh)[i])) < 3,
            )
          : undefined;
        return { id: source.id, trap: source.trap ?? '', becameFinding: near?.id ?? null };
      });
    const changes =
      truth.changes === undefined || store.comparison() === null
        ? null
        : scoreChanges(truth.changes, store.changes(), frame.enuFromLlh);
    return { score, summary: summariseScores([score]), traps, flights: store.flights().length, changes };
  } finally {
    store.close();
  }
}

function trueDischarges(
  truth: Truth,
  enuFromLlh: (llh: readonly [number, number, number]) => readonly [number, number, number],
): TrueDischarge[] {
  return truth.sources.flatMap((source) => {
    if (source.kind !== 'discharge' || !source.positionLlh) return [];
    const passes = source.passes ?? [{ framesInView: source.framesInView, events: source.eventsExpected }];
    const rates = passes.map((pass) => (pass.framesInView > 0 ? pass.events / pass.framesInView : 0));
    const best = rates.indexOf(Math.max(...rates));
    return [
      {
        id: source.id,
        positionEnuM: enuFromLlh(source.positionLlh),
        componentId: source.componentId ?? null,
        photonRateHz: source.photonRateHz ?? Number.NaN,
        events: source.eventsExpected,
        bestPassEventsPerFrame: rates[best] ?? 0,
        bestPassEvents: passes[best]?.events ?? 0,
      },
    ];
  });
}
