import type { FrameIndex } from '../../recording/FrameIndex.ts';
import type { CheckFinding } from './CheckFinding.ts';

export interface GainStretch {
  readonly gain: number;
  readonly exposureNs: number;
  readonly frames: number;
  readonly fromNs: number;
  readonly toNs: number;
}

/** A gain that is changed more often than this makes limits that change from fitting to fitting. */
const OFTEN_PER_MINUTE = 6;

/** The gain and exposure settings of a flight in order of time, and what is wrong with them. */
export function gainFindings(
  index: FrameIndex,
  gainCurve: readonly { readonly gain: number }[],
): { readonly history: GainStretch[]; readonly findings: CheckFinding[] } {
  const history: { -readonly [K in keyof GainStretch]: GainStretch[K] }[] = [];
  for (const { gain, exposureNs, tNs } of index) {
    const last = history[history.length - 1];
    if (last && last.gain === gain && last.exposureNs === exposureNs) {
      last.frames++;
      last.toNs = tNs;
    } else history.push({ gain, exposureNs, frames: 1, fromNs: tNs, toNs: tNs });
  }
  const findings: CheckFinding[] = [];
  const least = gainCurve[0].gain;
  const most = gainCurve[gainCurve.length - 1].gain;
  const beyond = history.filter(({ gain }) => gain < least || gain > most);
  if (beyond.length > 0)
    findings.push({
      area: 'gain',
      weight: 'fault',
      name: 'gain outside the curve',
      detail: `setting ${[...new Set(beyond.map((s) => s.gain))].join(', ')}; the rig's gain curve reaches from ${least} to ${most}`,
      fromNs: beyond[0].fromNs,
      toNs: beyond[beyond.length - 1].toNs,
    });
  const minutes = (index[index.length - 1].tNs - index[0].tNs) / 60e9;
  if (history.length - 1 > Math.max(3, OFTEN_PER_MINUTE * minutes))
    findings.push({
      area: 'gain',
      weight: 'warning',
      name: 'gain changed often',
      detail: `${history.length - 1} changes in ${minutes.toFixed(1)} minutes`,
    });
  return { history, findings };
}
