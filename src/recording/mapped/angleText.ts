const DEG = 180 / Math.PI;
const DECIMAL = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/;

/** The number in a cell; NaN where it holds anything else. */
export const numberIn = (text: string): number => (DECIMAL.test(text) ? Number(text) : Number.NaN);

export type PlaceUnit = 'deg' | 'rad' | 'dms' | 'ddmm';

/**
 * Degrees of a latitude or longitude as text. A letter at either end gives the sign (S and W are negative).
 * "dms" takes degrees, minutes and seconds with any marks between them; "ddmm" degrees and minutes run together, as in NMEA 0183.
 * @returns NaN where the text is no such angle, minutes or seconds reach 60, or sign and letter contradict each other
 */
export function degreesIn(text: string, unit: PlaceUnit): number {
  const letter = /^([NSEWnsew])?(.*?)([NSEWnsew])?$/.exec(text.trim()) as RegExpExecArray;
  const mark = (letter[1] ?? letter[3] ?? '').toUpperCase();
  const body = letter[2].trim();
  if (mark !== '' && body.startsWith('-')) return Number.NaN;
  const sign = mark === 'S' || mark === 'W' ? -1 : 1;
  if (unit === 'deg') return sign * numberIn(body);
  if (unit === 'rad') return sign * numberIn(body) * DEG;
  if (unit === 'ddmm') {
    const parts = /^(\d{1,3})(\d{2}(?:\.\d*)?)$/.exec(body);
    return parts && Number(parts[2]) < 60 ? sign * (Number(parts[1]) + Number(parts[2]) / 60) : Number.NaN;
  }
  const parts = /^([+-]?)(\d{1,3})[^\d.]+(\d{1,2})[^\d.]+(\d{1,2}(?:\.\d*)?)[^\d.]*$/.exec(body);
  if (!parts || Number(parts[3]) >= 60 || Number(parts[4]) >= 60) return Number.NaN;
  const size = Number(parts[2]) + Number(parts[3]) / 60 + Number(parts[4]) / 3600;
  return sign * (parts[1] === '-' ? -size : size);
}
