import { meridianConvergenceDeg } from '../earth/meridianConvergence.ts';
import { PROJECTED_SYSTEMS, utmCodeAt } from '../earth/projected.ts';
import { DEG_PER_RAD } from '../maths/angle.ts';

/** How a place moves with the heading, and where it ought to be. East and north, metres. */
export interface HeadingWitness {
  /** From the camera to the place; of two passes over one place, the difference of the two. */
  readonly leverM: readonly [number, number];
  /** Where the place ought to be less where it was put; of two passes, the difference of the two. */
  readonly missM: readonly [number, number];
  readonly sigmaM: number;
}

export interface HeadingTurn {
  /** To add to all headings. */
  readonly turnDeg: number;
  readonly sigmaDeg: number;
  readonly witnesses: number;
  /** A grid whose north stands so far from true north at the place; null where none does. */
  readonly grid: { readonly code: string; readonly name: string; readonly convergenceDeg: number } | null;
}

/** A turn is told from so many standard deviations on; below half a degree it is the boresight's business. */
const TOLD_SIGMAS = 5;
const SMALLEST_DEG = 0.3;
const ROUNDS = 12;
const OUTLIER_SIGMAS = 3;

/**
 * One turn of all headings that would put places where they ought to be, by robust weighted least squares: a turn of the heading
 * moves a place across the line of sight, to the other side where it is seen from the other side.
 * @returns null where there is no turn worth a word
 */
export function headingTurn(witnesses: readonly HeadingWitness[], lonDeg: number, latDeg: number): HeadingTurn | null {
  let turnRad = 0;
  let sigmaRad = 0;
  const missOf = ({ leverM: [e, n], missM: [de, dn], sigmaM }: HeadingWitness): number =>
    // A clockwise turn by a moves (e, n) by a (n, -e).
    Math.hypot(de - turnRad * n, dn + turnRad * e) / sigmaM;
  for (let round = 0; round < ROUNDS; round++) {
    let information = 0;
    let right = 0;
    let square = 0;
    let used = 0;
    for (const witness of witnesses) {
      const {
        leverM: [e, n],
        missM: [de, dn],
        sigmaM,
      } = witness;
      const miss = missOf(witness);
      // A source on a wire beside the hardware it is compared with must not turn the rest (Cauchy's weights).
      const weight = round === 0 ? 1 : 1 / (1 + (miss / OUTLIER_SIGMAS) ** 2);
      information += (weight * (e * e + n * n)) / sigmaM ** 2;
      right += (weight * (n * de - e * dn)) / sigmaM ** 2;
      square += weight * miss * miss;
      used += weight;
    }
    if (!(information > 0)) return null;
    turnRad = right / information;
    // What the turn leaves over says whether the deviations were stated rightly.
    sigmaRad = Math.sqrt(Math.max(1, square / Math.max(1, 2 * used - 1)) / information);
  }
  const [turnDeg, sigmaDeg] = [turnRad * DEG_PER_RAD, sigmaRad * DEG_PER_RAD];
  if (Math.abs(turnDeg) < Math.max(SMALLEST_DEG, TOLD_SIGMAS * sigmaDeg)) return null;
  const own = Number(utmCodeAt(lonDeg, latDeg).slice(5));
  const codes = [own, own - 1, own + 1].map((c) => `EPSG:${c}`).concat('EPSG:2154', 'EPSG:3035');
  const tolerance = Math.max(3 * sigmaDeg, 0.15);
  for (const code of codes) {
    const known = PROJECTED_SYSTEMS.get(code);
    if (!known || known.area[0] > lonDeg + 6 || known.area[2] < lonDeg - 6) continue;
    const convergenceDeg = meridianConvergenceDeg(code, lonDeg, latDeg);
    if (Math.abs(convergenceDeg) > SMALLEST_DEG && Math.abs(turnDeg - convergenceDeg) < tolerance)
      return { turnDeg, sigmaDeg, witnesses: witnesses.length, grid: { code, name: known.name, convergenceDeg } };
  }
  return { turnDeg, sigmaDeg, witnesses: witnesses.length, grid: null };
}
