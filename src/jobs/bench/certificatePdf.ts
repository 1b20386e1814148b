import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { LENS_PARAMETERS } from '../../camera/Lens.ts';
import { vectorFromRotation } from '../../maths/rotation.ts';
import { typesetPdf } from '../report/typesetPdf.ts';
import type { CertificateContent } from './certificate.ts';
import { certificateCharts } from './certificateCharts.ts';
import {
  certificateTime,
  comparisonRows,
  comparisonText,
  OFFSET_COLUMNS,
  offsetRows,
  offsetText,
} from './certificateText.ts';

/** A string as Typst writes one: nothing in it is markup. */
const quoted = (text: string): string => `#${JSON.stringify(text)}`;
const px = (x: number | null): string => (x === null || !Number.isFinite(x) ? '–' : x.toFixed(x < 10 ? 3 : 1));

function table(header: readonly string[], rows: readonly (readonly string[])[]): string {
  const cell = (text: string): string => `[${quoted(text)}]`;
  return `#block(breakable: false)[#table(columns: ${header.length}, stroke: none, inset: (x: 0pt, y: 3.4pt), column-gutter: 14pt,
  table.header(${header.map((h) => `text(weight: 600)${cell(h)}`).join(', ')}), table.hline(stroke: 0.4pt),
  ${rows.map((r) => r.map(cell).join(', ')).join(',\n  ')})]`;
}

/** The certificate on paper: the same figures and charts as the HTML, as PDF/A. The same run gives the same bytes. */
export async function certificatePdf(content: CertificateContent): Promise<Uint8Array> {
  const charts = certificateCharts(content);
  const workspace = await mkdtemp(join(tmpdir(), 'certificate-'));
  try {
    const drawn: Record<string, string> = { before: charts.before, after: charts.after };
    charts.beforeBy.forEach((svg, i) => (drawn[`beforeBy${i}`] = svg));
    charts.afterBy.forEach((svg, i) => (drawn[`afterBy${i}`] = svg));
    for (const [name, chart] of Object.entries(drawn)) {
      const svg = chart.replace('<svg ', '<svg xmlns="http://www.w3.org/2000/svg" font-family="Inter" font-size="11" ');
      await writeFile(join(workspace, `${name}.svg`), svg);
    }
    await writeFile(join(workspace, 'certificate.typ'), source(content, charts));
    return typesetPdf(workspace, 'certificate.typ').pdf;
  } finally {
    await rm(workspace, { recursive: true, force: true });
  }
}

function source(content: CertificateContent, charts: ReturnType<typeof certificateCharts>): string {
  const { calibration, document, registration, verdict, comparison, frames } = content;
  const { statistics, ladder } = calibration;
  const { provenance, validity } = document;
  const sigma = (i: number): number => Math.sqrt(registration.covariance[i * 25]);
  const pair = (value: number, s: number, unit = ''): string => {
    const digits = s > 0 ? Math.max(0, Math.min(8, 1 - Math.floor(Math.log10(s)))) : 6;
    return `${value.toFixed(digits)} ± ${s.toFixed(digits)}${unit}`;
  };
  const turn = vectorFromRotation(registration.model.colourFromUv.rotation);
  const deg = 180 / Math.PI;
  const image = (name: string, alt: string, caption = ''): string =>
    `[#image("${name}.svg", width: 100%, alt: ${JSON.stringify(alt)})${caption && ` #text(8pt)[${quoted(caption)}]`}]`;
  const lenses = LENS_PARAMETERS.map((name, i) => [
    name.replace('Px', i < 4 ? ', px' : ''),
    pair(registration.model.uv[name], sigma(i)),
    pair(registration.model.colour[name], sigma(9 + i)),
  ]);
  const pose = ['x', 'y', 'z'].map((axis, i) => [
    axis,
    pair(1000 * registration.model.colourFromUv.translation[i], 1000 * sigma(21 + i), ' mm'),
    pair(turn[i] * deg, sigma(18 + i) * deg, '°'),
  ]);
  const list = (lines: readonly string[]): string => lines.map((line) => `- ${quoted(line)}`).join('\n');
  const sections = [
    `#set document(title: ${JSON.stringify(`Registration certificate, ${document.rigId}`)})
#set page(paper: "a4", margin: 20mm, numbering: "1 / 1")
#set text(font: "Inter", size: 9.5pt, lang: "en")
#show heading: it => block(above: 14pt, below: 6pt, text(size: 11pt, weight: 600, it.body))
#text(size: 15pt, weight: 600)[Registration certificate]

${quoted(`Rig ${document.rigId}, bench run “${provenance.benchName}”, recorded ${validity.recordedUtc}${validity.temperatureC === null ? '' : ` at ${validity.temperatureC} °C`}`)}

#block(stroke: 0.8pt, inset: 8pt, width: 100%)[#text(weight: 600)[${quoted(`${verdict.passed ? 'Within' : 'Outside'} the tolerance of ${verdict.tolerancePx} px.`)}]
${list(verdict.reasons)}]`,
    calibration.weaknesses.length === 0
      ? ''
      : `= What this run leaves open\n${list(calibration.weaknesses.map((w) => `${w.what}. ${w.record}`))}`,
    `= Residuals
#grid(columns: (1fr, 1fr), gutter: 12pt,
${image('before', 'Arrows of the overlay error before calibration over the ultraviolet image', `Before: as built. ${px(charts.rmsBeforePx)} px. Arrows ${charts.beforeMagnified} times their length.`)},
${image('after', 'Arrows of the held-out residuals over the ultraviolet image', `After: held-out. ${px(charts.rmsAfterPx)} px. Arrows ${charts.afterMagnified} times their length.`)},
${[0, 1].map((i) => image(`beforeBy${i}`, `Overlay error before calibration along ${'uv'[i]} against range`)).join(',\n')},
${[0, 1, 2, 3, 4, 5].map((i) => image(`afterBy${i}`, `Held-out residuals along ${'uv'[i % 2]} against ${['range', 'radius', 'time'][i >> 1]}`)).join(',\n')})
Dashed: the region in which the mapping is supported, from ${registration.support.nearestM.toFixed(1)} m on.`,
    `= Ladder of models\n${table(
      ['model', 'parameters', 'in sample, px', `held out (${ladder.foldedBy}), px`, 'at one range, px'],
      ladder.rows.map((r) => [
        r.kind === ladder.chosen ? `${r.kind} (chosen)` : r.kind,
        String(r.parameters),
        px(r.inSampleRmsPx),
        px(r.heldOutRmsPx),
        px(r.ownRangeHeldOutRmsPx),
      ]),
    )}`,
    `= Predicted error of the mapping\n${table(
      ['range', 'median, px (1 sigma)', 'worst in the supported region, px'],
      verdict.predicted.map((p) => [
        Number.isFinite(p.rangeM) ? `${p.rangeM} m` : 'infinity',
        px(p.medianSigmaPx),
        px(p.worstSigmaPx),
      ]),
    )}`,
    comparison === null
      ? ''
      : `= Since the last certificate\n${quoted(comparisonText(comparison))}\n${comparison.kind === 'compared' ? `\n${table(['range', 'change, RMS px', 'worst px', 'expected of the errors alone, px'], comparisonRows(comparison))}` : ''}`,
    `= Time\n${list(certificateTime(document))}`,
    `= Lamps beside their marks\n${quoted(offsetText(document))}\n${table(OFFSET_COLUMNS, offsetRows(document))}`,
    `= Lenses and pose\n${table(['', 'ultraviolet', 'colour'], lenses)}\n${table(['', 'colour from uv, shift', 'turn'], pose)}`,
    `= What was used\n${quoted(`${frames.uv} ultraviolet and ${frames.colour} colour frames; ${calibration.framesUsed} instants with ${calibration.correspondences.length} whole marks used, ${calibration.outliers.length} outliers. Noise of the target's positions ${px(statistics.noiseFloorPx)} px, as the finders state it ${px(statistics.statedNoiseFloorPx)} px.`)}`,
    table(
      ['sweep', 'held out, px', 'marks'],
      statistics.bySweep.map((sweep) => [sweep.name, px(sweep.heldOutRmsPx), String(sweep.correspondences)]),
    ),
    document.statistics.leftOut.length === 0
      ? 'No frame was left out.'
      : table(
          ['left out because', 'frames'],
          document.statistics.leftOut.map((l) => [l.because, String(l.frames)]),
        ),
    calibration.outliers.length === 0
      ? ''
      : table(
          ['outlier in', 'mark', 'camera', 'off by, px', 'sigmas'],
          calibration.outliers
            .slice(0, 20)
            .map((o) => [o.frame, o.mark, o.camera, px(o.residualPx), o.sigmas.toFixed(1)]),
        ),
    calibration.outliers.length > 20
      ? quoted(`and ${calibration.outliers.length - 20} more, in registration.json`)
      : '',
    `= Provenance\n${table(
      ['', ''],
      [
        ['software', provenance.software],
        ['registration', registration.hash],
        ['bench run', provenance.benchHash],
        ['rig.json', provenance.rigHash],
      ],
    )}
Valid for this rig as it was mounted and focused at the run. Verify it after transport, after a blow, and when the temperature has changed much.`,
  ];
  return `${sections.filter((s) => s !== '').join('\n\n')}\n`;
}
