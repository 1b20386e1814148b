import type { FrameIndex } from '../../recording/FrameIndex.ts';
import { type StreamHealth, streamHealth } from '../../time/streamHealth.ts';
import type { CheckFinding } from './CheckFinding.ts';

/** Share of frames missing from which the flight suffers, and from which something is broken (common practice, no source). */
const MISSING_WARNING = 0.005;
const MISSING_FAULT = 0.1;
/** A gap this long is longer than a pass over a fitting. */
const LONG_GAP_S = 1;
/** Stamps that scatter by this much move the rays by a fifth of what a survey-grade trajectory does, at 20 m/s. */
const JITTER_WARNING_MS = 0.5;
const RATE_ERROR_WARNING = 0.01;
/** Longest list of gaps that is told one by one. */
const MOST_GAPS = 5;

/** Gaps, missing frames, jitter and rate of one image stream. */
export function streamFindings(
  stream: 'uv' | 'colour',
  index: FrameIndex,
  nominalRateHz: number,
): { readonly health: StreamHealth; readonly findings: CheckFinding[] } {
  const health = streamHealth(
    index.map((entry) => entry.tNs),
    nominalRateHz,
  );
  const findings: CheckFinding[] = [];
  const say = (
    weight: CheckFinding['weight'],
    name: string,
    detail: string,
    when: { fromNs?: number; toNs?: number } = {},
  ): void => {
    findings.push({ area: 'streams', weight, name: `${stream}: ${name}`, detail, ...when });
  };
  const share = health.missing / Math.max(1, health.count + health.missing);
  if (health.missing > 0)
    say(
      share > MISSING_FAULT ? 'fault' : share > MISSING_WARNING ? 'warning' : 'note',
      'frames missing',
      `${health.missing} of ${health.count + health.missing} (${(100 * share).toFixed(1)} %) in ${health.gaps.length} gaps`,
    );
  const long = health.gaps.filter((gap) => gap.toNs - gap.fromNs > LONG_GAP_S * 1e9);
  for (const gap of long.slice(0, MOST_GAPS))
    say('warning', 'gap', `${((gap.toNs - gap.fromNs) / 1e9).toFixed(1)} s without a frame`, {
      fromNs: gap.fromNs,
      toNs: gap.toNs,
    });
  if (long.length > MOST_GAPS)
    say('warning', 'gap', `${long.length - MOST_GAPS} further gaps of more than ${LONG_GAP_S} s`);
  if (health.jitterRmsNs > JITTER_WARNING_MS * 1e6)
    say('warning', 'jitter', `stamps scatter by ${(health.jitterRmsNs * 1e-6).toFixed(2)} ms about even intervals`);
  if (Math.abs(health.rateErrorRelative) > RATE_ERROR_WARNING)
    say('warning', 'frame rate', `${health.measuredRateHz.toFixed(2)} Hz measured, ${nominalRateHz} Hz in flight.json`);
  return { health, findings };
}
