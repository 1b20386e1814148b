import type { DischargeRecord, FindingRecord } from '../../campaign/records.ts';
import { relativeAirDensityPeek } from '../../earth/airDensity.ts';
import { expectCorona, type WireField } from '../../grade/expectCorona.ts';
import { gradeFinding } from '../../grade/gradeFinding.ts';
import { gradientsOfSpan } from '../../grade/gradientsOfSpan.ts';
import type { RuleTable } from '../../grade/RuleTable.ts';
import type { LineComponent, LineModel } from '../../line/LineModel.ts';
import type { Conditions } from '../../recording/FlightDescription.ts';

/** The finding of a discharge: what it sits on, whether it was to be expected in this weather, and how it ranks. */
export function findingRecord(
  record: DischargeRecord,
  { line, rules }: { readonly line: LineModel; readonly rules: RuleTable },
  conditions: Conditions,
): FindingRecord {
  const best = record.attribution.candidates[0];
  const component = line.components.find((c) => c.id === best?.componentId) ?? null;
  const expectation = expectCorona(
    component?.kind ?? null,
    {
      weather: conditions.weather,
      airDensity: relativeAirDensityPeek(conditions.temperatureC, conditions.pressureHPa),
    },
    component ? wireField(component, line, conditions.mainsHz) : null,
  );
  return {
    id: record.id,
    componentId: best?.componentId ?? null,
    componentProbability: best?.probability ?? 0,
    grade: gradeFinding(
      {
        componentKind: component?.kind ?? null,
        componentProbability: best?.probability ?? 0,
        rate: record.rate,
        expectation,
        passes: record.passes,
        change: 'first campaign',
      },
      rules,
    ),
    decision: 'open',
    comment: '',
  };
}

/** The strongest surface field of a wire; null for anything else and where the span's geometry does not give it. */
function wireField(component: LineComponent, line: LineModel, mainsHz: number): WireField | null {
  if (component.kind !== 'conductor' && component.kind !== 'earth wire') return null;
  const gradients = gradientsOfSpan(line, component.structureIds);
  if (gradients.kind === 'refused') return null;
  const own = gradients.byComponent.get(component.id);
  if (!own) return null;
  return {
    largestKvPerCm: own.largestKvPerCm,
    radiusCm: own.radiusCm,
    ...(own.spacingM === null
      ? {}
      : {
          phase: {
            voltageToEarthKv: line.voltageKv / Math.sqrt(3),
            spacingCm: 100 * own.spacingM,
            frequencyHz: mainsHz,
          },
        }),
  };
}
