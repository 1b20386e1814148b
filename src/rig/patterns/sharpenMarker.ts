import type { SeenMark } from '../BenchObservations.ts';
import { edgeCrossing } from './edgeCrossing.ts';
import type { GreyImage } from './GreyImage.ts';

const ALONG = 14;
/** What sampling and compression leave. */
const FLOOR_PX = 0.02;

/**
 * The four corners of a dark square as the meeting points of its sides, each a straight line through where its edge
 * crosses half-way: a blurred corner by itself looks drawn inwards, its sides do not.
 * @param corners in order round the square, to about a pixel
 * @returns       null where a side is not to be seen
 */
export function sharpenMarker(image: GreyImage, corners: readonly SeenMark[]): SeenMark[] | null {
  const lines: Line[] = [];
  for (let side = 0; side < 4; side++) {
    const line = sideLine(image, corners[side], corners[(side + 1) % 4]);
    if (!line) return null;
    lines.push(line);
  }
  const sharp = lines.map((next, i): SeenMark | null => {
    const before = lines[(i + 3) % 4];
    const sine = before.nx * next.ny - before.ny * next.nx;
    if (Math.abs(sine) < 0.3) return null;
    const u = (before.c * next.ny - next.c * before.ny) / sine;
    const v = (before.nx * next.c - next.nx * before.c) / sine;
    if (Math.hypot(u - corners[i].u, v - corners[i].v) > 2) return null;
    const sigma = Math.hypot(before.endSigmaPx, next.endSigmaPx) / Math.abs(sine) / Math.SQRT2;
    return { u, v, sigmaPx: Math.hypot(FLOOR_PX, sigma) };
  });
  return sharp.every((s) => s !== null) ? sharp : null;
}

/** nx x + ny y = c, and the standard deviation of the line at its ends. */
interface Line {
  readonly nx: number;
  readonly ny: number;
  readonly c: number;
  readonly endSigmaPx: number;
}

function sideLine(image: GreyImage, a: SeenMark, b: SeenMark): Line | null {
  const [dx, dy] = [b.u - a.u, b.v - a.v];
  const length = Math.hypot(dx, dy);
  const [nx, ny] = [dy / length, -dx / length];
  // The border of a marker is a sixth of its side or less: half of that lies within it.
  const reach = Math.max(1.5, Math.min(4, 0.1 * length));
  let points: { t: number; off: number }[] = [];
  for (let i = 0; i < ALONG; i++) {
    const t = 0.12 + (0.76 * i) / (ALONG - 1);
    const off = edgeCrossing(image, a.u + t * dx, a.v + t * dy, nx, ny, reach);
    if (off !== null) points.push({ t: t - 0.5, off });
  }
  for (let round = 0; ; round++) {
    if (points.length < ALONG / 2) return null;
    const n = points.length;
    const [mt, mo] = [points.reduce((s, p) => s + p.t, 0) / n, points.reduce((s, p) => s + p.off, 0) / n];
    const tt = points.reduce((s, p) => s + (p.t - mt) ** 2, 0);
    const slope = points.reduce((s, p) => s + (p.t - mt) * (p.off - mo), 0) / tt;
    const missOf = (p: { t: number; off: number }): number => p.off - mo - slope * (p.t - mt);
    const spread = Math.sqrt(points.reduce((s, p) => s + missOf(p) ** 2, 0) / (n - 2));
    const kept = points.filter((p) => Math.abs(missOf(p)) <= Math.max(0.1, 2.5 * spread));
    if (round < 2 && kept.length < n) {
      points = kept;
      continue;
    }
    const at = (t: number): [number, number] => {
      const off = mo + slope * (t - mt);
      return [a.u + (t + 0.5) * dx + off * nx, a.v + (t + 0.5) * dy + off * ny];
    };
    const [p, q] = [at(-0.5), at(0.5)];
    const long = Math.hypot(q[0] - p[0], q[1] - p[1]);
    const [mx, my] = [(q[1] - p[1]) / long, -(q[0] - p[0]) / long];
    return {
      nx: mx,
      ny: my,
      c: mx * p[0] + my * p[1],
      endSigmaPx: spread * Math.sqrt(1 / n + 0.25 / tt),
    };
  }
}
