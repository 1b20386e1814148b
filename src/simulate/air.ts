import type { InventedConditions } from './World.ts';

/** Rayleigh extinction at 15 °C and 1013.25 hPa, 1/km. Source: Bucholtz, Appl. Opt. 34 (1995) 2765, fit for 0.2 to 0.5 µm. */
export function rayleighPerKm(wavelengthNm: number): number {
  const um = wavelengthNm / 1000;
  return 7.68246e-4 * um ** -(3.55212 + 1.35579 * um + 0.11563 / um);
}

/** Ozone cross sections at the middles of bands of about 3 nm, 293 to 298 K, 1e-20 cm2. Source: JPL Publication 06-2 (2006). */
const OZONE_BANDS: readonly (readonly [wavelengthNm: number, sigma: number])[] = [
  [251.6, 1125],
  [254.8, 1148],
  [258.1, 1122],
  [261.4, 1064],
  [264.9, 968],
  [268.5, 840],
  [272.1, 698],
];

const BOLTZMANN_J_PER_K = 1.380649e-23;

/** Extinction of each band of the filter, 1/m, at the true air of the flight. */
export function bandExtinctionsPerM(
  air: Pick<InventedConditions, 'temperatureC' | 'pressureHPa' | 'ozonePpb'>,
): number[] {
  const kelvin = air.temperatureC + 273.15;
  const moleculesPerCm3 = (air.pressureHPa * 100) / (BOLTZMANN_J_PER_K * kelvin) / 1e6;
  const density = (air.pressureHPa / 1013.25) * (288.15 / kelvin);
  return OZONE_BANDS.map(([nm, sigma]) => {
    const ozonePerCm = sigma * 1e-20 * air.ozonePpb * 1e-9 * moleculesPerCm3;
    return rayleighPerKm(nm) * density * 1e-3 + ozonePerCm * 100;
  });
}

/** Share of the in-band photons that cross `rangeM` of this air: the mean over the bands, each alike in the source's light. */
export function airTransmission(extinctionsPerM: readonly number[], rangeM: number): number {
  let sum = 0;
  for (const k of extinctionsPerM) sum += Math.exp(-k * rangeM);
  return sum / extinctionsPerM.length;
}

/** Share of the photons of an isotropic source that become photon events, before the air: eta A / (4 pi R^2). */
export function eventsPerEmittedPhoton(apertureMm: number, eventsPerPhoton: number, rangeM: number): number {
  const radiusM = apertureMm / 2000;
  return (eventsPerPhoton * radiusM * radiusM) / (4 * rangeM * rangeM);
}
