/** Over water, -40 to 50 °C, within 0.05 % of IAPWS above freezing. Source: Buck, 1996 research manual (from memory). */
export const saturationVapourPressureHPa = (temperatureC: number): number =>
  6.1121 * Math.exp(((18.678 - temperatureC / 234.5) * temperatureC) / (257.14 + temperatureC));

/** Water in the air, g/m3, as IEC 60060-1:2010 has it computed for its humidity correction (from memory). */
export const absoluteHumidityIecGPerM3 = (temperatureC: number, relativeHumidityPct: number): number =>
  (6.11 * relativeHumidityPct * Math.exp((17.6 * temperatureC) / (243 + temperatureC))) /
  (0.4615 * (273 + temperatureC));

/** Temperature at which this air would be saturated: below it, hardware is wet with dew. */
export function dewPointC(temperatureC: number, relativeHumidityPct: number): number {
  const target = (saturationVapourPressureHPa(temperatureC) * relativeHumidityPct) / 100;
  if (!(relativeHumidityPct > 0)) return Number.NEGATIVE_INFINITY;
  let low = -100;
  let high = temperatureC;
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (saturationVapourPressureHPa(middle) < target) low = middle;
    else high = middle;
  }
  return high;
}
