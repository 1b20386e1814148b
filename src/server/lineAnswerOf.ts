import type { CoverageRecord } from '../campaign/records.ts';
import type { LineComponent } from '../line/LineModel.ts';
import type { ComponentAnswer, LineAnswer } from './api/line.ts';
import type { CampaignView } from './CampaignView.ts';

const isWire = ({ kind }: LineComponent): boolean => kind === 'conductor' || kind === 'earth wire';
const NEVER_SEEN: Omit<CoverageRecord, 'componentId'> = {
  state: 'not seen',
  framesInView: 0,
  nearestRangeM: null,
  limitHz: null,
};

/** The line model with what was seen of each component. */
export function lineAnswerOf(view: CampaignView): LineAnswer {
  const { line, frame, coverage, along } = view;
  const findingsOf = new Map<string, string[]>();
  for (const { id, componentId } of view.findings)
    if (componentId !== null) findingsOf.set(componentId, [...(findingsOf.get(componentId) ?? []), id]);
  const alongM = (place: readonly [number, number, number]): number => round(along?.(place).alongM ?? 0, 1e3);
  const componentAnswer = (component: LineComponent): ComponentAnswer => {
    const seen = coverage.get(component.id) ?? NEVER_SEEN;
    return {
      id: component.id,
      kind: component.kind,
      structureIds: [...component.structureIds],
      circuit: component.circuit,
      phase: component.phase,
      side: component.side ?? null,
      axisEnuM: component.axisEnuM.map(([e, n, u]) => [round(e, 1e4), round(n, 1e4), round(u, 1e4)]),
      axisLlh: component.axisEnuM.map((point) => {
        const [lon, lat, height] = frame.llhFromEnu(point);
        return [round(lon, 1e9), round(lat, 1e9), round(height, 1e4)];
      }),
      alongM: component.axisEnuM.map(alongM),
      radiusM: component.radiusM,
      sigmaM: component.sigmaM,
      discs: component.discs,
      bundle: component.bundle,
      coverage: {
        state: seen.state,
        framesInView: seen.framesInView,
        nearestRangeM: seen.nearestRangeM,
        limitHz: seen.limitHz,
        reasons: reasonsOf(seen),
      },
      findingIds: findingsOf.get(component.id) ?? [],
    };
  };
  return {
    name: line.name,
    owner: line.owner,
    voltageKv: line.voltageKv,
    structures: line.structures.map((structure) => ({
      id: structure.id,
      kind: structure.kind,
      footEnuM: [...structure.footEnuM] as [number, number, number],
      footLlh: [...frame.llhFromEnu(structure.footEnuM)] as [number, number, number],
      heightM: structure.heightM,
      sigmaM: structure.sigmaM,
      alongM: alongM(structure.footEnuM),
    })),
    components: line.components.filter((one) => !isWire(one)).map(componentAnswer),
    conductors: line.components.filter(isWire).map(componentAnswer),
  };
}

/** What else is known of how it was looked at, a sentence each. */
function reasonsOf({ view }: Omit<CoverageRecord, 'componentId'>): string[] {
  if (view === undefined) return [];
  const hidden = Math.round(100 * view.hiddenShare);
  return [
    ...(view.flyAgain === null ? [] : [view.flyAgain]),
    ...(hidden > 0 && view.hiddenBy !== null ? [`${view.hiddenBy} and others keep ${hidden} % of its light away`] : []),
  ];
}

/** To a tenth of a millimetre or better: what is left out is far below every sigma, and the answer is half as long. */
const round = (value: number, per: number): number => Math.round(value * per) / per;
