import type { ComponentKind } from '../line/LineModel.ts';
import type { Expectedness } from './Grade.ts';
import { disruptiveGradientKvPerCm, inceptionKvPerCm, peekLoss, SURFACE_FACTORS, type Surface } from './peek.ts';
import type { Reason } from './Reason.ts';
import { reasonsInEnglish } from './reasonsInEnglish.ts';

export interface Weather {
  readonly weather: 'dry' | 'rain' | 'fog';
  /** Peek's relative air density: 1 at 25 °C and 1013.25 hPa. */
  readonly airDensity: number;
}

/** What is known of a wire's field: needed for conductors and what sits on them; null where the line's geometry is unknown. */
export interface WireField {
  readonly largestKvPerCm: number;
  readonly radiusCm: number;
  /** What an estimate of the loss needs beside; missing for earth wires, which lose nothing of the load. */
  readonly phase?: {
    readonly voltageToEarthKv: number;
    /** Geometric mean of the distances between the phases. */
    readonly spacingCm: number;
    readonly frequencyHz: number;
  };
}

export interface Expectation {
  readonly expectedness: Expectedness;
  /** Why, in English, and for any language. */
  readonly reasoning: string;
  readonly reasons: readonly Reason[];
  /** Surface gradient over the gradient of inception, least and greatest surface factor; null where not computed. */
  readonly gradientOverInception: readonly [number, number] | null;
}

/** State of the surface that a weather leaves on a conductor some years old. */
const surfaceIn = (weather: Weather['weather']): Surface =>
  weather === 'dry' ? 'aged conductor, dry' : 'aged conductor, rain or fog';

/** Below this relative density (some 1500 m above the sea) the margin that fittings are made with is noticeably smaller. */
const THIN_AIR = 0.85;

const expectation = (
  expectedness: Expectedness,
  reasons: readonly Reason[],
  gradientOverInception: Expectation['gradientOverInception'] = null,
): Expectation => ({ expectedness, reasons, reasoning: reasonsInEnglish(reasons), gradientOverInception });

/**
 * Whether sound hardware would glow in this weather.
 * Wires: the surface gradient against Peek's inception, over the range of surface factors for the weather: below all of
 * them a glow is unexpected, above all expected, between borderline.
 * Fittings and insulators are designed to be free of corona when dry; drops of water distort their field, so that in rain
 * or fog a glow is borderline on metal, and expected on insulators, whose wet surfaces spark as they dry in patches.
 */
export function expectCorona(kind: ComponentKind | null, weather: Weather, field: WireField | null): Expectation {
  if (kind === 'conductor' || kind === 'earth wire') return expectOnWire(kind, weather, field);
  if (kind === null) return expectation('borderline', [{ key: 'component unknown', values: {} }]);
  const { airDensity } = weather;
  if (weather.weather === 'dry')
    return expectation('unexpected', [
      { key: airDensity < THIN_AIR ? 'fitting dry, thin air' : 'fitting dry', values: { kind, airDensity } },
    ]);
  return kind === 'insulator string'
    ? expectation('expected', [{ key: 'string wet', values: { weather: weather.weather } }])
    : expectation('borderline', [{ key: 'fitting wet', values: { weather: weather.weather, kind } }]);
}

function expectOnWire(kind: 'conductor' | 'earth wire', weather: Weather, field: WireField | null): Expectation {
  const wet = weather.weather !== 'dry';
  if (!field)
    return expectation(wet ? 'borderline' : 'unexpected', [
      wet
        ? { key: 'wire field unknown, wet', values: { kind, weather: weather.weather } }
        : { key: 'wire field unknown, dry', values: { kind } },
    ]);
  const surface = surfaceIn(weather.weather);
  const [least, greatest] = SURFACE_FACTORS[surface];
  const inception = (factor: number): number => inceptionKvPerCm(field.radiusCm, weather.airDensity, factor);
  const [low, high] = [inception(least), inception(greatest)];
  const ratios = [field.largestKvPerCm / high, field.largestKvPerCm / low] as const;
  const expectedness: Expectedness = ratios[0] > 1 ? 'expected' : ratios[1] < 1 ? 'unexpected' : 'borderline';
  const values = {
    gradient: field.largestKvPerCm,
    low,
    high,
    surface,
    least,
    greatest,
    airDensity: weather.airDensity,
  };
  return expectation(
    expectedness,
    [{ key: `wire ${expectedness}`, values }, ...lossReasons(field, weather.airDensity, least)],
    ratios,
  );
}

/**
 * The loss that goes with the roughest surface of the range: an upper figure. Peek's law for single wires is carried over to
 * bundles through the gradient, the critical voltage being that at which the computed gradient falls to 21.2 m δ kV/cm.
 */
function lossReasons(field: WireField, airDensity: number, surfaceFactor: number): Reason[] {
  if (field.phase === undefined) return [];
  const { voltageToEarthKv, spacingCm, frequencyHz } = field.phase;
  const criticalKv = (voltageToEarthKv * disruptiveGradientKvPerCm(airDensity, surfaceFactor)) / field.largestKvPerCm;
  const loss = peekLoss(voltageToEarthKv, criticalKv, frequencyHz, field.radiusCm, spacingCm, airDensity);
  return loss.kind === 'loss'
    ? [{ key: 'corona loss', values: { greatestKwPerKm: loss.kwPerKmPerPhase } }]
    : [{ key: 'corona loss none', values: {} }];
}
