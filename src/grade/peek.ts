/**
 * When a smooth conductor begins to glow. Radii in centimetres and gradients in kV/cm as the formulae are printed;
 * crest values have `Crest` in their name, all others are rms.
 * Source: F. W. Peek, Dielectric Phenomena in High Voltage Engineering, 3rd ed. 1929, ch. III and IV.
 */
export type WireGeometry = 'parallel wires' | 'concentric cylinders';

/** Gradient of breakdown in kV/cm crest and the root-of-radius term, per geometry; not to be mixed. */
const PEEK = {
  'parallel wires': { crestKvPerCm: 30, rootCm: 0.301 },
  'concentric cylinders': { crestKvPerCm: 31, rootCm: 0.308 },
} as const;

/** Surface gradient at which the glow becomes visible, kV/cm crest. Air density enters once, here. */
export function inceptionCrestKvPerCm(
  radiusCm: number,
  airDensity: number,
  surfaceFactor: number,
  geometry: WireGeometry = 'parallel wires',
): number {
  const { crestKvPerCm, rootCm } = PEEK[geometry];
  return crestKvPerCm * surfaceFactor * airDensity * (1 + rootCm / Math.sqrt(airDensity * radiusCm));
}

export const inceptionKvPerCm = (
  radiusCm: number,
  airDensity: number,
  surfaceFactor: number,
  geometry: WireGeometry = 'parallel wires',
): number => inceptionCrestKvPerCm(radiusCm, airDensity, surfaceFactor, geometry) / Math.SQRT2;

/** Gradient at which air breaks down at a surface without the root-of-radius term, kV/cm rms: 30/√2 m δ. */
export const disruptiveGradientKvPerCm = (airDensity: number, surfaceFactor: number): number =>
  (30 / Math.SQRT2) * surfaceFactor * airDensity;

/** Disruptive critical voltage to neutral, kV rms. Books round the 30/√2 = 21.213 to 21, 21.1 or 21.2: pass theirs to compare. */
export const disruptiveVoltageKv = (
  radiusCm: number,
  spacingCm: number,
  airDensity: number,
  surfaceFactor: number,
  kvPerCm = 30 / Math.SQRT2,
): number => kvPerCm * surfaceFactor * airDensity * radiusCm * Math.log(spacingCm / radiusCm);

/** Visual critical voltage to neutral, kV rms. */
export const visualVoltageKv = (
  radiusCm: number,
  spacingCm: number,
  airDensity: number,
  surfaceFactor: number,
  kvPerCm = 30 / Math.SQRT2,
  rootCm = 0.3,
): number =>
  disruptiveVoltageKv(radiusCm, spacingCm, airDensity, surfaceFactor, kvPerCm) *
  (1 + rootCm / Math.sqrt(airDensity * radiusCm));

export type CoronaLoss =
  | {
      readonly kind: 'loss';
      readonly kwPerKmPerPhase: number;
      /** Whether the voltage is at least 1.8 times the critical one, where Peek's law is trusted; below, Peterson's is. */
      readonly withinRange: boolean;
    }
  | { readonly kind: 'refused'; readonly because: 'below the critical voltage' };

/**
 * Corona loss by Peek's quadratic law: a help to see an order of magnitude, not a measurement; a factor of three either
 * way is common (common practice, no source).
 * @param foul in rain, fog or snow the critical voltage is taken as 0.8 of the fair one
 * @param constant books print 241, 242, 242.2 or 244
 */
export function peekLoss(
  voltageToNeutralKv: number,
  criticalVoltageKv: number,
  frequencyHz: number,
  radiusCm: number,
  spacingCm: number,
  airDensity: number,
  foul = false,
  constant = 241,
): CoronaLoss {
  const critical = (foul ? 0.8 : 1) * criticalVoltageKv;
  const excess = voltageToNeutralKv - critical;
  if (!(excess > 0)) return { kind: 'refused', because: 'below the critical voltage' };
  return {
    kind: 'loss',
    withinRange: voltageToNeutralKv >= 1.8 * critical,
    kwPerKmPerPhase:
      (constant / airDensity) * (frequencyHz + 25) * Math.sqrt(radiusCm / spacingCm) * excess * excess * 1e-5,
  };
}

/** Peterson's loss, kW/km/phase, with his factor for V / V_critical read from his curve. */
export const petersonLossKwPerKm = (
  voltageToNeutralKv: number,
  frequencyHz: number,
  radiusCm: number,
  spacingCm: number,
  factor: number,
): number => (21e-6 * frequencyHz * voltageToNeutralKv ** 2 * factor) / Math.log10(spacingCm / radiusCm) ** 2;

/** Irregularity factors of a surface, least and greatest. Polished wire is 1. */
export const SURFACE_FACTORS = {
  'polished wire': [1, 1],
  'roughened, weathered wire': [0.93, 0.98],
  'stranded cable': [0.83, 0.87],
  'aged conductor, dry': [0.8, 0.9],
  'aged conductor, rain or fog': [0.5, 0.7],
  'new or soiled conductor': [0.4, 0.6],
} as const satisfies Record<string, readonly [number, number]>;
export type Surface = keyof typeof SURFACE_FACTORS;
