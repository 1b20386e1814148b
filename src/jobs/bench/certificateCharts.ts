import { colourPxFromUv } from '../../rig/colourFromUv.ts';
import type { CertificateContent } from './certificate.ts';
import { type Arrow, arrowChart, scatterChart } from './charts.ts';

export interface CertificateCharts {
  /** SVG texts: arrows of the overlay as built and of the held-out residuals, and these against range, radius and time. */
  readonly before: string;
  readonly after: string;
  readonly byRange: string;
  readonly byRadius: string;
  readonly byTime: string;
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
  const byRange: [number, number][] = [];
  const byRadius: [number, number][] = [];
  const byTime: [number, number][] = [];
  correspondences.forEach((c, i) => {
    const at = colourPxFromUv(nominal, c.uv[0], c.uv[1], c.inverseRangePerM);
    const drawn = i % Math.ceil(correspondences.length / 500) === 0;
    if (at && drawn) before.push({ u: c.uv[0], v: c.uv[1], du: c.colour[0] - at[0], dv: c.colour[1] - at[1] });
    const [du, dv] = [ladder.heldOutPx[2 * i], ladder.heldOutPx[2 * i + 1]];
    if (Number.isNaN(du)) return;
    if (drawn) after.push({ u: c.uv[0], v: c.uv[1], du, dv });
    const size = Math.hypot(du, dv);
    byRange.push([1 / c.inverseRangePerM, size]);
    byRadius.push([Math.hypot(c.uv[0] - (uv.widthPx - 1) / 2, c.uv[1] - (uv.heightPx - 1) / 2), size]);
    byTime.push([c.frame.tNs / 1e9, size]);
  });
  const toY = 5 * Math.max(statistics.noiseFloorPx, 0.5 * registration.heldOutRmsPx);
  const chart = (points: [number, number][], x: string): string => {
    const xs = points.map((p) => p[0]);
    return scatterChart(
      points,
      { x, y: 'held-out residual, px', fromX: 0, toX: Math.max(...xs) * 1.02, toY },
      { at: statistics.noiseFloorPx, label: 'noise alone' },
    );
  };
  const rms = (arrows: Arrow[]): number =>
    Math.sqrt(arrows.reduce((s, a) => s + a.du ** 2 + a.dv ** 2, 0) / arrows.length);
  const [rmsBefore, rmsAfter] = [rms(before), rms(after)];
  return {
    before: arrowChart(uv, before, round(30 / rmsBefore), round(rmsBefore), hull),
    after: arrowChart(uv, after, round(14 / rmsAfter), round(2 * rmsAfter), hull),
    byRange: chart(byRange, 'range, m'),
    byRadius: chart(byRadius, 'distance from the middle of the ultraviolet image, px'),
    byTime: chart(byTime, 'time in the run, s'),
    beforeMagnified: round(30 / rmsBefore),
    afterMagnified: round(14 / rmsAfter),
    rmsBeforePx: rmsBefore,
    rmsAfterPx: rmsAfter,
  };
}
