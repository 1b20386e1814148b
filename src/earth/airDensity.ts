/** International standard atmosphere, 0 to 11 km. Source: ISO 2533:1975 (from memory). */
const SEA_LEVEL_K = 288.15;
const SEA_LEVEL_PA = 101325;
const LAPSE_K_PER_M = 0.0065;
const GAS_CONSTANT_AIR = 287.05287;

/** Geopotential height from geometric height: printed tables go by the former. */
export const geopotentialHeightM = (heightM: number): number => (6356766 * heightM) / (6356766 + heightM);

export interface StandardAir {
  readonly temperatureC: number;
  readonly pressureHPa: number;
  readonly densityKgPerM3: number;
}

/** @param geopotentialM above mean sea level, -1000 to 11000 */
export function standardAir(geopotentialM: number): StandardAir {
  if (!(geopotentialM >= -1000 && geopotentialM <= 11000))
    throw new RangeError(`standardAir: ${geopotentialM} m is outside -1000 to 11000 m`);
  const kelvin = SEA_LEVEL_K - LAPSE_K_PER_M * geopotentialM;
  const pascal = SEA_LEVEL_PA * (kelvin / SEA_LEVEL_K) ** 5.25588;
  return {
    temperatureC: kelvin - 273.15,
    pressureHPa: pascal / 100,
    densityKgPerM3: pascal / (GAS_CONSTANT_AIR * kelvin),
  };
}

/** Of dry air. */
export const airDensityKgPerM3 = (temperatureC: number, pressureHPa: number): number =>
  (pressureHPa * 100) / (GAS_CONSTANT_AIR * (temperatureC + 273.15));

/**
 * Relative density as Peek's formula takes it: 1 at 25 °C and 760 mmHg. Not the one of IEC 60060-1: 1.7 % apart.
 * Source: Peek, Dielectric Phenomena in High Voltage Engineering, 1929 (from memory).
 */
export const relativeAirDensityPeek = (temperatureC: number, pressureHPa: number): number =>
  (pressureHPa / 1013.25) * (298.15 / (temperatureC + 273.15));

/** Relative density as IEC 60060-1:2010, 4.3.2 takes it: 1 at 20 °C and 101.3 kPa (from memory). */
export const relativeAirDensityIec = (temperatureC: number, pressureHPa: number): number =>
  (pressureHPa / 1013) * (293 / (273 + temperatureC));
