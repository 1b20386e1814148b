import { LENS_PARAMETERS } from '../../camera/Lens.ts';
import { vectorFromRotation } from '../../maths/rotation.ts';
import type { RigCalibration } from '../../rig/calibrateRig.ts';
import type { ComparisonOutcome } from '../../rig/compareRegistrations.ts';
import type { Registration, TwoCameraModel } from '../../rig/Registration.ts';
import type { RegistrationDocument } from '../../rig/registrationFile.ts';
import { certificateCharts } from './certificateCharts.ts';
import {
  certificateTime,
  comparisonRows,
  comparisonText,
  OFFSET_COLUMNS,
  offsetRows,
  offsetText,
} from './certificateText.ts';
import { FAINT, INK, VIOLET } from './charts.ts';
import type { Verdict } from './verdict.ts';

export interface CertificateContent {
  readonly calibration: RigCalibration;
  readonly document: RegistrationDocument;
  readonly registration: Registration;
  /** The mapping that rig.json alone gives. */
  readonly nominal: TwoCameraModel;
  readonly verdict: Verdict;
  /** Against the registration before, named by its hash; null where none was given. */
  readonly comparison: (ComparisonOutcome & { readonly lastHash: string }) | null;
  readonly frames: { readonly uv: number; readonly colour: number };
}

const escaped = (text: string): string =>
  text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;');
const px = (x: number | null): string =>
  x === null ? '–' : x >= 100 ? x.toFixed(0) : x >= 10 ? x.toFixed(1) : x.toFixed(3);
/** A value with two figures of its standard deviation. */
function withSigma(value: number, sigma: number, unit = ''): string {
  const digits = sigma > 0 ? Math.max(0, Math.min(8, 1 - Math.floor(Math.log10(sigma)))) : 6;
  return `${value.toFixed(digits)} ± ${sigma.toFixed(digits)}${unit && ` ${unit}`}`;
}

/** The certificate of a bench run: one HTML file that needs nothing else. The same run gives the same bytes. */
export function certificateHtml(content: CertificateContent): string {
  const { calibration, document, registration, verdict } = content;
  const { statistics, ladder, correspondences } = calibration;
  const drawn = certificateCharts(content);
  const { rmsBeforePx: rmsBefore, rmsAfterPx: rmsAfter } = drawn;
  const row = (cells: string[], tag = 'td'): string => `<tr>${cells.map((c) => `<${tag}>${c}</${tag}>`).join('')}</tr>`;
  const ladderRows = ladder.rows.map((r) =>
    row([
      r.kind === ladder.chosen ? `<b>${r.kind}</b> (chosen)` : r.kind,
      r.parameters === 0 ? '–' : String(r.parameters),
      px(r.inSampleRmsPx),
      r.heldOutRmsPx === null
        ? 'not determined'
        : `${px(r.heldOutRmsPx)}${r.heldOutStandardErrorPx === null ? '' : ` ± ${px(r.heldOutStandardErrorPx)}`}`,
      px(r.ownRangeHeldOutRmsPx),
    ]),
  );
  const sigma = (i: number): number => Math.sqrt(registration.covariance[i * 25]);
  const lensRows = LENS_PARAMETERS.map((name, i) =>
    row([
      name.replace('Px', ''),
      withSigma(registration.model.uv[name], sigma(i), i < 4 ? 'px' : ''),
      withSigma(registration.model.colour[name], sigma(9 + i), i < 4 ? 'px' : ''),
    ]),
  );
  const turn = vectorFromRotation(registration.model.colourFromUv.rotation);
  const deg = 180 / Math.PI;
  const poseRows = ['x', 'y', 'z'].map((axis, i) =>
    row([
      axis,
      withSigma(1000 * registration.model.colourFromUv.translation[i], 1000 * sigma(21 + i), 'mm'),
      withSigma(turn[i] * deg, sigma(18 + i) * deg, '°'),
    ]),
  );
  const outliers = calibration.outliers
    .slice(0, 25)
    .map((o) => row([escaped(o.frame), escaped(o.mark), o.camera, px(o.residualPx), o.sigmas.toFixed(1)]));
  const { provenance, validity } = document;
  const { comparison } = content;
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Registration certificate, ${escaped(document.rigId)}</title>
<meta name="viewport" content="width=device-width, initial-scale=1"><style>
body{font:15px/1.5 system-ui,"Helvetica Neue",Arial,sans-serif;color:${INK};background:#fdfcf8;max-width:920px;margin:3rem auto;padding:0 2rem}
h1{font-size:1.5rem;font-weight:600;margin:0 0 .2rem}h2{font-size:1rem;font-weight:600;margin:2.6rem 0 .6rem;border-top:1px solid ${INK};padding-top:.5rem}
p{margin:.4rem 0;max-width:66ch}.verdict{font-size:1.15rem;margin:1.4rem 0;padding:.8rem 1rem;border:1.5px solid ${INK}}
table{border-collapse:collapse;font-variant-numeric:tabular-nums;margin:.4rem 0}th,td{text-align:left;padding:.2rem 1.4rem .2rem 0;vertical-align:top}
th{font-weight:500;border-bottom:1px solid ${FAINT}}.pair{display:grid;grid-template-columns:1fr 1fr;gap:1.6rem}
figure{margin:.4rem 0}figcaption{font-size:.87rem}svg{width:100%;height:auto}svg text{font:11px system-ui,Arial,sans-serif;fill:${INK}}
.uv{color:${VIOLET}}code{font-size:.82rem;overflow-wrap:anywhere}@media(max-width:700px){.pair{grid-template-columns:1fr}}@media print{body{margin:0 auto}h2{break-after:avoid}figure,table{break-inside:avoid}}
</style></head><body>
<h1>Registration certificate</h1>
<p>Rig <b>${escaped(document.rigId)}</b>, bench run “${escaped(provenance.benchName)}”, recorded ${escaped(validity.recordedUtc)}${validity.temperatureC === null ? '' : ` at ${validity.temperatureC} °C`}</p>
<div class="verdict"><b>${verdict.passed ? 'Within' : 'Outside'} the tolerance of ${verdict.tolerancePx} px.</b>
<ul>${verdict.reasons.map((r) => `<li>${escaped(r)}</li>`).join('')}</ul></div>
<p>The mapping takes a pixel of the <span class="uv">ultraviolet</span> image and the range of its source to a pixel of the colour image. Held-out root mean square (two-dimensional, colour px): <b>${px(registration.heldOutRmsPx)}</b>; noise of the target's positions alone: ${px(statistics.noiseFloorPx)}, as the finders state it ${px(statistics.statedNoiseFloorPx)}.</p>
${calibration.weaknesses.length === 0 ? '' : `<h2>What this run leaves open</h2><ul>${calibration.weaknesses.map((w) => `<li>${escaped(w.what)}. ${escaped(w.record)}</li>`).join('')}</ul>`}
<h2>Residuals</h2>
<div class="pair"><figure>${drawn.before}<figcaption>Before: as built, parallel cameras and lenses without distortion. ${px(rmsBefore)} px. Arrows ${drawn.beforeMagnified} times their length.</figcaption></figure>
<figure>${drawn.after}<figcaption>After: two-camera model, each ${ladder.foldedBy === 'sweeps' ? 'sweep' : 'block of time'} predicted by a fit that had not seen it. ${px(rmsAfter)} px. Arrows ${drawn.afterMagnified} times their length.</figcaption></figure></div>
<p>Dashed, in <span class="uv">violet</span>: the region of the ultraviolet image in which the mapping is supported, from ${registration.support.nearestM.toFixed(1)} m on; outside, every answer is marked as not supported.</p>
<div class="pair">${drawn.beforeBy.map((svg) => `<figure>${svg}</figure>`).join('')}</div>
<p>Above: before, along u (left) and v (right) against range. Below: held-out residuals of the calibration along both axes, against range, radius and time.</p>
<div class="pair">${drawn.afterBy.map((svg) => `<figure>${svg}</figure>`).join('')}</div>
<div class="pair"><figure><table>${row(['sweep', 'held-out, px', 'marks'], 'th')}${statistics.bySweep.map((s) => row([escaped(s.name), px(s.heldOutRmsPx), String(s.correspondences)])).join('')}</table></figure></div>
<h2>Ladder of models</h2>
<table>${row(['model', 'parameters', 'in sample, px', `held out (${ladder.foldedBy}), px`, 'fitted and tried at one range, px'], 'th')}${ladderRows.join('')}</table>
<p>Chosen: the simplest within one standard error of the best on held-out data. A model of the plane knows no range: the last column is what it does at the range that it was made for.</p>
<h2>Predicted error of the mapping</h2>
<table>${row(['range', 'median in the supported region, px (1 sigma)', 'worst, px (1 sigma)'], 'th')}${verdict.predicted.map((p) => row([Number.isFinite(p.rangeM) ? `${p.rangeM} m` : 'infinity', px(p.medianSigmaPx), px(p.worstSigmaPx)])).join('')}</table>
${
  comparison === null
    ? ''
    : `<h2>Since the last certificate</h2><p>${escaped(comparisonText(comparison))}</p>${
        comparison.kind === 'compared'
          ? `<table>${row(['range', 'change, RMS px', 'worst px', 'expected of the errors alone, px'], 'th')}${comparisonRows(
              comparison,
            )
              .map((r) => row(r))
              .join('')}</table>`
          : ''
      }`
}
<h2>Time</h2>
<ul>${certificateTime(document)
    .map((line) => `<li>${escaped(line)}</li>`)
    .join('')}</ul>
<h2>Lamps beside their marks</h2>
<p>${escaped(offsetText(document))}</p>
<table>${row([...OFFSET_COLUMNS], 'th')}${offsetRows(document)
    .map((r) => row(r.map(escaped)))
    .join('')}</table>
<h2>Lenses and pose</h2>
<div class="pair"><table>${row(['', '<span class="uv">ultraviolet</span>', 'colour'], 'th')}${lensRows.join('')}</table>
<table>${row(['', 'colour from uv, shift', 'turn'], 'th')}${poseRows.join('')}</table></div>
<h2>What was used and what was not</h2>
<p>${content.frames.uv} ultraviolet and ${content.frames.colour} colour frames; ${calibration.framesUsed} instants with ${correspondences.length} whole marks used. The finders' standard deviations were multiplied by ${statistics.sigmaFactors.uv.toFixed(2)} (<span class="uv">ultraviolet</span>) and ${statistics.sigmaFactors.colour.toFixed(2)} (colour), from the residuals.</p>
<table>${row(['left out because', 'frames'], 'th')}${document.statistics.leftOut.map((l) => row([escaped(l.because), String(l.frames)])).join('') || row(['nothing left out', ''])}</table>
${outliers.length === 0 ? '<p>No outliers.</p>' : `<table>${row(['outlier in', 'mark', 'camera', 'off by, px', 'sigmas'], 'th')}${outliers.join('')}</table>${calibration.outliers.length > 25 ? `<p>and ${calibration.outliers.length - 25} more, in registration.json.</p>` : ''}`}
<h2>Provenance</h2>
<table>${row(['software', escaped(provenance.software)])}${row(['registration', `<code>${registration.hash}</code>`])}${row(['bench run', `<code>${escaped(provenance.benchHash)}</code>`])}${row(['rig.json', `<code>${escaped(provenance.rigHash)}</code>`])}</table>
<p>Valid for this rig as it was mounted and focused at the run. Verify it after transport, after a blow, and when the temperature has changed much.</p>
</body></html>
`;
}
