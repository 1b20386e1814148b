import type { ComponentKind } from '../line/LineModel.ts';
import type { Expectedness } from './Grade.ts';
import { inceptionKvPerCm, SURFACE_FACTORS, type Surface } from './peek.ts';

export interface Weather {
  readonly weather: 'dry' | 'rain' | 'fog';
  /** Peek's relative air density: 1 at 25 °C and 1013.25 hPa. */
  readonly airDensity: number;
}

/** What is known of a wire's field: needed for conductors and what sits on them; null where the line's geometry is unknown. */
export interface WireField {
  readonly largestKvPerCm: number;
  readonly radiusCm: number;
}

export interface Expectation {
  readonly expectedness: Expectedness;
  readonly reasoning: string;
  /** Surface gradient over the gradient of inception, least and greatest surface factor; null where not computed. */
  readonly gradientOverInception: readonly [number, number] | null;
}

/** State of the surface that a weather leaves on a conductor some years old. */
const surfaceIn = (weather: Weather['weather']): Surface =>
  weather === 'dry' ? 'aged conductor, dry' : 'aged conductor, rain or fog';

/**
 * Whether sound hardware would glow in this weather.
 * Wires: the surface gradient against Peek's inception, over the range of surface factors for the weather: below all of
 * them a glow is unexpected, above all expected, between borderline.
 * Fittings and insulators are designed to be free of corona when dry; drops of water distort their field, so that in rain
 * or fog a glow is borderline on metal, and expected on insulators, whose wet surfaces spark as they dry in patches.
 */
export function expectCorona(kind: ComponentKind | null, weather: Weather, field: WireField | null): Expectation {
  const wet = weather.weather !== 'dry';
  if (kind === 'conductor' || kind === 'earth wire') return expectOnWire(kind, weather, field);
  if (kind === null) {
    return {
      expectedness: 'borderline',
      gradientOverInception: null,
      reasoning: 'It is not known what the discharge sits on, so nothing can be said of what to expect.',
    };
  }
  const air = thinAir(weather.airDensity);
  if (!wet)
    return {
      expectedness: 'unexpected',
      gradientOverInception: null,
      reasoning: `A sound ${kind} is made to be free of corona in dry weather${air}.`,
    };
  const expectedness = kind === 'insulator string' ? 'expected' : 'borderline';
  return {
    expectedness,
    gradientOverInception: null,
    reasoning:
      kind === 'insulator string'
        ? `In ${weather.weather} wet and drying patches of a sound insulator glow; look again in dry weather.`
        : `In ${weather.weather} drops on a sound ${kind} may glow; look again in dry weather.`,
  };
}

function expectOnWire(kind: 'conductor' | 'earth wire', weather: Weather, field: WireField | null): Expectation {
  const wet = weather.weather !== 'dry';
  if (!field)
    return {
      expectedness: wet ? 'borderline' : 'unexpected',
      gradientOverInception: null,
      reasoning: `The field at this ${kind} was not computed; ${
        wet
          ? `in ${weather.weather} drops on a sound wire may glow.`
          : 'in dry weather a sound wire is not expected to glow.'
      }`,
    };
  const surface = surfaceIn(weather.weather);
  const [least, greatest] = SURFACE_FACTORS[surface];
  const inception = (factor: number): number => inceptionKvPerCm(field.radiusCm, weather.airDensity, factor);
  const [low, high] = [inception(least), inception(greatest)];
  const ratios = [field.largestKvPerCm / high, field.largestKvPerCm / low] as const;
  const expectedness: Expectedness = ratios[0] > 1 ? 'expected' : ratios[1] < 1 ? 'unexpected' : 'borderline';
  const verdict = {
    expected: 'a sound wire glows along its length',
    borderline: 'whether a sound wire glows depends on its surface',
    unexpected: 'a sound wire does not glow',
  }[expectedness];
  return {
    expectedness,
    gradientOverInception: ratios,
    reasoning: `Surface gradient ${field.largestKvPerCm.toFixed(1)} kV/cm rms; inception ${low.toFixed(1)} to ${high.toFixed(1)} kV/cm rms (${surface}, surface factor ${least} to ${greatest}, relative air density ${weather.airDensity.toFixed(2)}): ${verdict}.`,
  };
}

const thinAir = (density: number): string =>
  density < 0.85 ? `, though thin air (relative density ${density.toFixed(2)}) lowers the margin` : '';
