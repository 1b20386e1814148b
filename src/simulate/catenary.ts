import type { Vec3 } from '../maths/vec3.ts';

/** Sag of a catenary below the middle of its chord, for parameter C = H/w, horizontal span and height difference. */
export function sagFromParameter(parameterM: number, spanM: number, riseM: number): number {
  const x0 = lowPoint(parameterM, spanM, riseM);
  const at = (x: number) => parameterM * Math.cosh((x - x0) / parameterM);
  return (at(0) + at(spanM)) / 2 - at(spanM / 2);
}

/** Horizontal distance from the first support to the low point; may lie outside the span. Positive rise: second end higher. */
export function lowPoint(parameterM: number, spanM: number, riseM: number): number {
  return spanM / 2 - parameterM * Math.asinh(riseM / (2 * parameterM * Math.sinh(spanM / (2 * parameterM))));
}

/** The parameter C that gives the wanted sag: bisection in the logarithm, to 1e-12 relative. */
export function parameterFromSag(spanM: number, riseM: number, sagM: number): number {
  let low = Math.log(spanM / 20);
  let high = Math.log(spanM * 1e6);
  for (let i = 0; i < 100 && high - low > 1e-13; i++) {
    const middle = (low + high) / 2;
    if (sagFromParameter(Math.exp(middle), spanM, riseM) > sagM) low = middle;
    else high = middle;
  }
  return Math.exp((low + high) / 2);
}

/** A wire hung between two points: a point at each share of the horizontal way (0 at a, 1 at b). */
export function hangWire(a: Vec3, b: Vec3, sagM: number): (share: number) => Vec3 {
  const spanM = Math.hypot(b[0] - a[0], b[1] - a[1]);
  const c = parameterFromSag(spanM, b[2] - a[2], sagM);
  const x0 = lowPoint(c, spanM, b[2] - a[2]);
  // cosh p - cosh q as a product keeps the digits that C (kilometres) would swallow in a difference.
  const heightAt = (x: number) => 2 * c * Math.sinh((x - 2 * x0) / (2 * c)) * Math.sinh(x / (2 * c));
  return (share) => [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]), a[2] + heightAt(share * spanM)];
}
