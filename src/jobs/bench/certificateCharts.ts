import { colourPxFromUv } from '../../rig/colourFromUv.ts';
import type { CertificateContent } from './certificate.ts';
import { type Arrow, arrowChart, signedChart } from './charts.ts';

/** Place on the axis across, and the residual along u and v. */
type Signed = readonly [number, number, number];

export interface CertificateCharts {
  /** SVG texts: arrows of the overlay as built and of the held-out residuals, and these against range, radius and time. */
  readonly before: string;
  readonly after: string;
  /** Overlay error before, along u and along v, against range. */
  readonly beforeBy: readonly string[];
  /** Held-out residuals along u and along v, against range, then radius, then time. */
  readonly afterBy: readonly string[];
  readonly beforeMagnified: number;
  readonly afterMagnified: number;
  readonly rmsBeforePx: number;
  readonly rmsAfterPx: number;
}

const round = (x: number): number => Number(x.toPrecision(1));

export function certificateCharts({ calibration, registration, nominal }: CertificateContent): CertificateCharts {
  const { statistics, ladder, correspondences } = calibration;
  const { uv } = registration.model;
  const hull = registration.support.uvHullPx;
  const before: Arrow[] = [];
  const after: Arrow[] = [];
  const off: Record<'before' | 'range' | 'radius' | 'time', Signed[]> = { before: [], range: [], radius: [], time: [] };
  correspondences.forEach((c, i) => {
    const at = colourPxFromUv(nominal, c.uv[0], c.uv[1], c.inverseRangePerM);
    const drawn = i % Math.ceil(correspondences.length / 500) === 0;
    if (at) {
      const arrow = { u: c.uv[0], v: c.uv[1], du: c.colour[0] - at[0], dv: c.colour[1] - at[1] };
      if (drawn) before.push(arrow);
      off.before.push([1 / c.inverseRangePerM, arrow.du, arrow.dv]);
    }
    const [du, dv] = [ladder.heldOutPx[2 * i], ladder.heldOutPx[2 * i + 1]];
    if (Number.isNaN(du)) return;
    if (drawn) after.push({ u: c.uv[0], v: c.uv[1], du, dv });
    off.range.push([1 / c.inverseRangePerM, du, dv]);
    off.radius.push([Math.hypot(c.uv[0] - (uv.widthPx - 1) / 2, c.uv[1] - (uv.heightPx - 1) / 2), du, dv]);
    off.time.push([c.frame.tNs / 1e9, du, dv]);
  });
  const noise = statistics.noiseFloorPx / Math.SQRT2;
  const toY = 4.5 * Math.max(noise, 0.4 * registration.heldOutRmsPx);
  const charts = (points: readonly Signed[], x: string, most: number, level: number | null): string[] =>
    ([1, 2] as const).map((axis) =>
      signedChart(
        points.map((p) => [p[0], p[axis]]),
        {
          x,
          y: `${axis === 1 ? 'along u' : 'along v'}, px`,
          toX: Math.max(...points.map((p) => p[0])) * 1.02,
          toY: most,
        },
        level,
      ),
    );
  const mostBefore = Math.max(...off.before.flatMap((p) => [Math.abs(p[1]), Math.abs(p[2])]));
  const rms = (arrows: Arrow[]): number =>
    Math.sqrt(arrows.reduce((s, a) => s + a.du ** 2 + a.dv ** 2, 0) / arrows.length);
  const [rmsBefore, rmsAfter] = [rms(before), rms(after)];
  return {
    before: arrowChart(uv, before, round(30 / rmsBefore), round(rmsBefore), hull),
    after: arrowChart(uv, after, round(14 / rmsAfter), round(2 * rmsAfter), hull),
    beforeBy: charts(off.before, 'range, m', 1.05 * mostBefore, null),
    afterBy: [
      ...charts(off.range, 'range, m', toY, noise),
      ...charts(off.radius, 'distance from the middle of the ultraviolet image, px', toY, noise),
      ...charts(off.time, 'time in the run, s', toY, noise),
    ],
    beforeMagnified: round(30 / rmsBefore),
    afterMagnified: round(14 / rmsAfter),
    rmsBeforePx: rmsBefore,
    rmsAfterPx: rmsAfter,
  };
}
