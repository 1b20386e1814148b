import type { FrameIndex } from '../../recording/FrameIndex.ts';
import { clockSlip } from '../../time/clockSlip.ts';
import type { CheckFinding } from './CheckFinding.ts';

/** How the colour stamps lie against those of the nearest uv frames. */
export interface Synchronisation {
  /** Colour minus uv, middle of the exposures, circular mean over one uv period, ms. */
  readonly meanOffsetMs: number;
  /** Scatter about the mean and its drift. */
  readonly scatterMs: number;
  readonly driftMsPerMinute: number;
  /** Whether every colour exposure falls on the rhythm of the uv frames; if not, the figures above say nothing. */
  readonly locked: boolean;
}

/** Scatter above which two streams are not triggered together, as a share of the uv period (an even spread has 0.29). */
const LOCKED_SHARE = 0.1;
const SCATTER_WARNING_MS = 1;
/** A drift of the offset that moves an overlay by a pixel within a few minutes. */
const DRIFT_WARNING_MS = 1;

/**
 * Compares the stamps of both cameras. Both are stamped by one clock: triggered together, the middles of their exposures
 * keep a constant distance. Streams that run freely are not at fault, and are only noted.
 * @param unixS when the flight began, for naming a difference of time scales
 */
export function synchronisation(
  uv: FrameIndex,
  colour: FrameIndex,
  uvRateHz: number,
  unixS: number,
): { readonly figures: Synchronisation | null; readonly findings: CheckFinding[] } {
  const findings: CheckFinding[] = [];
  const say = (weight: CheckFinding['weight'], name: string, detail: string): void => {
    findings.push({ area: 'synchronisation', weight, name, detail });
  };
  const startS = (colour[0].tNs - uv[0].tNs) * 1e-9;
  const endS = (colour[colour.length - 1].tNs - uv[uv.length - 1].tNs) * 1e-9;
  if (Math.abs(startS) > 5 && Math.abs(startS - endS) < 1) {
    const slip = clockSlip((startS + endS) / 2, 0.25, unixS);
    say(
      'fault',
      slip ? slip.name : 'clocks apart',
      `the colour stream begins and ends ${startS.toFixed(2)} s after the uv stream. ${slip?.todo ?? 'Set both to one clock.'}`,
    );
    return { figures: null, findings };
  }
  const outside = colour.filter((c) => c.tNs < uv[0].tNs - 1e9 || c.tNs > uv[uv.length - 1].tNs + 1e9).length;
  if (outside > 0.02 * colour.length)
    say('warning', 'colour alone', `${outside} of ${colour.length} colour frames lie outside the uv stream`);

  const periodNs = 1e9 / uvRateHz;
  const tS: number[] = [];
  const gapNs: number[] = [];
  let near = 0;
  for (const { tNs } of colour) {
    while (near + 1 < uv.length && Math.abs(uv[near + 1].tNs - tNs) <= Math.abs(uv[near].tNs - tNs)) near++;
    const gap = tNs - uv[near].tNs;
    if (Math.abs(gap) > periodNs) continue;
    tS.push(tNs * 1e-9);
    gapNs.push(gap);
  }
  if (gapNs.length < 3) return { figures: null, findings };
  // A gap of nearly half a period may be told from either side: the mean is taken on the circle of one period.
  const angle = (gap: number): number => (2 * Math.PI * gap) / periodNs;
  const meanAngle = Math.atan2(
    gapNs.reduce((sum, gap) => sum + Math.sin(angle(gap)), 0),
    gapNs.reduce((sum, gap) => sum + Math.cos(angle(gap)), 0),
  );
  const off = gapNs.map((gap) => {
    const a = angle(gap) - meanAngle;
    return (Math.atan2(Math.sin(a), Math.cos(a)) * periodNs) / (2 * Math.PI);
  });
  const scatterNs = Math.sqrt(off.reduce((sum, x) => sum + x * x, 0) / off.length);
  const locked = scatterNs < LOCKED_SHARE * periodNs;
  const driftMsPerMinute = slope(tS, off) * 60 * 1e-6;
  const meanOffsetMs = ((meanAngle * periodNs) / (2 * Math.PI)) * 1e-6;
  const minutes = (tS[tS.length - 1] - tS[0]) / 60;
  if (!locked) say('note', 'running freely', 'the cameras are not triggered together; their stamps alone tie them');
  else {
    if (scatterNs * 1e-6 > SCATTER_WARNING_MS)
      say('warning', 'scatter', `colour against uv stamps scatter by ${(scatterNs * 1e-6).toFixed(2)} ms`);
    if (Math.abs(driftMsPerMinute * minutes) > DRIFT_WARNING_MS)
      say('warning', 'drift', `colour drifts against uv by ${driftMsPerMinute.toFixed(2)} ms a minute`);
  }
  return { figures: { meanOffsetMs, scatterMs: scatterNs * 1e-6, driftMsPerMinute, locked }, findings };
}

function slope(x: readonly number[], y: readonly number[]): number {
  const n = x.length;
  const mx = x.reduce((a, b) => a + b, 0) / n;
  const my = y.reduce((a, b) => a + b, 0) / n;
  let xx = 0;
  let xy = 0;
  for (let i = 0; i < n; i++) {
    xx += (x[i] - mx) ** 2;
    xy += (x[i] - mx) * (y[i] - my);
  }
  return xx > 0 ? xy / xx : 0;
}
