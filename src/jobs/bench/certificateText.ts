import type { RegistrationComparison } from '../../rig/compareRegistrations.ts';
import type { RegistrationDocument } from '../../rig/registrationFile.ts';
import type { CertificateContent } from './certificate.ts';

/** What the certificate says of the last one. */
export function comparisonText(comparison: NonNullable<CertificateContent['comparison']>): string {
  const last = `the registration ${comparison.lastHash.slice(0, 12)}`;
  if (comparison.kind === 'refused') return `Not compared with ${last}: ${comparison.because}.`;
  const { chiSquare, degreesOfFreedom, pValue } = comparison;
  const chance = pValue < 1e-6 ? 'less than 1 in a million' : pValue.toPrecision(2);
  const test = `chi-square ${chiSquare.toFixed(1)} with ${degreesOfFreedom} degrees of freedom, chance of as much ${chance}`;
  return comparison.moved
    ? `The rig has moved since ${last} (${test}). Overlays made with the old registration are off by as much as below.`
    : `The rig has not moved significantly since ${last} (${test}).`;
}

/** Of `offsetRows`. */
export const OFFSET_COLUMNS = ['lamp', 'stated x, y, mm', 'from this run, mm', 'apart, sigmas', 'used, mm'] as const;

/** Lamp beside its mark: as stated, as the run alone tells it, how far apart the two are, and what was used. */
export const offsetRows = ({ statistics }: RegistrationDocument): string[][] =>
  (statistics.offsets ?? []).map((o) => {
    const mm = (xy: readonly number[]): string => xy.map((x) => x.toFixed(2)).join(', ');
    const { fromRunMm, fromRunSigmaMm, sigmasApart } = o;
    return [
      o.mark,
      `${mm(o.statedMm)} ± ${o.statedSigmaMm.toFixed(2)}`,
      fromRunMm && fromRunSigmaMm
        ? fromRunMm.map((x, i) => `${x.toFixed(2)} ± ${fromRunSigmaMm[i].toFixed(2)}`).join(', ')
        : 'not told',
      sigmasApart ? sigmasApart.map((x) => x.toFixed(1)).join(', ') : '–',
      mm(o.usedMm),
    ];
  });

/** One line on all of them. */
export function offsetText({ statistics }: RegistrationDocument): string {
  const apart = (statistics.offsets ?? []).flatMap((o) => (o.sigmasApart ? o.sigmasApart.map((s) => ({ o, s })) : []));
  if (apart.length === 0) return 'The run does not tell by itself where the lamps sit beside their marks.';
  const worst = apart.reduce((a, b) => (Math.abs(b.s) > Math.abs(a.s) ? b : a));
  const verdict =
    Math.abs(worst.s) > 4
      ? `lamp ${worst.o.mark} is ${Math.abs(worst.s).toFixed(1)} sigmas from where the target's description puts it: measure the target again`
      : `they agree with the target's description within ${Math.abs(worst.s).toFixed(1)} sigmas`;
  return `Lamps beside their marks, as this run alone tells them: ${verdict}.`;
}

/** Range, change, worst, expected. */
export const comparisonRows = (comparison: RegistrationComparison): string[][] =>
  comparison.at.map((a) => [
    Number.isFinite(a.rangeM) ? `${a.rangeM} m` : 'infinity',
    a.rmsPx.toFixed(3),
    a.worstPx.toFixed(3),
    a.expectedRmsPx.toFixed(3),
  ]);

/** What the run says of the streams' clocks, of frames out of order, and of rails. */
export function certificateTime({ statistics }: RegistrationDocument): string[] {
  const { clock, frameFaults = [], rails = [] } = statistics;
  const lines: string[] = [];
  if (!clock) lines.push('The motion of the target was not enough to tell the clocks of the streams apart.');
  else
    lines.push(
      `Colour clock against ultraviolet clock, from the target's motion: offset ${clock.offsetMs.toFixed(3)} ± ${clock.offsetSigmaMs.toFixed(3)} ms, drift ${clock.driftPpm.toFixed(1)} ± ${clock.driftSigmaPpm.toFixed(1)} ppm; ${clock.applied ? 'allowed for in the pairing' : 'too little to be allowed for'}.`,
    );
  const faults = frameFaults.map((f) => `${f.stream} frame ${f.frame}: ${f.what}`);
  lines.push(
    faults.length === 0
      ? 'No frame missing, delivered twice or out of order within a sweep.'
      : faults.slice(0, 12).join('; '),
  );
  if (faults.length > 12) lines.push(`and ${faults.length - 12} more, in registration.json`);
  for (const r of rails)
    lines.push(
      `Rail, ${r.sweep}: ${r.speedMps.toFixed(4)} m/s (stated ${r.statedMps.toFixed(4)}), strays ${r.alongRmsMm.toFixed(1)} mm along and ${r.acrossRmsMm.toFixed(1)} mm across (RMS, ${r.frames} frames).`,
    );
  return lines;
}
