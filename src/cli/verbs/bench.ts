import { type Command, InvalidArgumentError } from 'commander';
import { certificateTime, comparisonRows, comparisonText, offsetText } from '../../jobs/bench/certificateText.ts';
import { type BenchOutcome, runBench } from '../../jobs/bench/runBench.ts';
import { verifyBench } from '../../jobs/bench/verifyBench.ts';
import type { ComparisonOutcome } from '../../rig/compareRegistrations.ts';
import type { VerificationOutcome } from '../../rig/verifyRegistration.ts';
import { runVerb } from '../runVerb.ts';
import { table } from '../table.ts';

export function benchVerb(program: Command): void {
  program
    .command('bench')
    .description('calibrate the camera pair from a bench run: registration, tables, certificate')
    .argument('<run>', 'folder of the bench run')
    .requiredOption('--rig <file>', 'rig.json of the rig on the bench')
    .option('--out <folder>', 'folder to write to')
    .option('--against <file>', 'hold this registration against the run: nothing is fitted, nothing written')
    .option('--last <file>', 'registration of the rig before: has the rig moved since?')
    .option('--tolerance <px>', 'error of the overlay that is accepted, colour px', positive, 0.3)
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((run: string, options, command: Command) => {
      if ((options.out === undefined) === (options.against === undefined))
        command.error('error: give either --out <folder>, to calibrate, or --against <file>, to verify', {
          exitCode: 2,
        });
      return runVerb(options, async (watch) => {
        if (options.against !== undefined) {
          const verified = await verifyBench(run, options.rig, options.against, {
            tolerancePx: options.tolerance,
            onProgress: ({ stage, done, of }) => watch.progress(`bench: ${stage}`, done, of, 'frames'),
          });
          return {
            text: verificationText(verified),
            json: verified,
            verdictNegative: verified.kind === 'refused' || !verified.passed,
          };
        }
        const outcome = await runBench(run, options.rig, options.out, {
          tolerancePx: options.tolerance,
          lastFile: options.last,
          onProgress: ({ stage, done, of }) => watch.progress(`bench: ${stage}`, done, of, 'frames'),
        });
        return {
          text: benchText(outcome),
          json: benchJson(outcome),
          verdictNegative: outcome.kind === 'refused' || !outcome.verdict.passed,
        };
      });
    });
}

function positive(text: string): number {
  const value = Number(text);
  if (!(value > 0) || !Number.isFinite(value)) throw new InvalidArgumentError('expected a number above 0');
  return value;
}

const px = (value: number | null): string => (value === null || !Number.isFinite(value) ? '-' : value.toFixed(3));

function benchText(outcome: BenchOutcome): string {
  if (outcome.kind === 'refused') return `No registration: ${outcome.because}.\nTo cure it: ${outcome.record}`;
  const { document, verdict, files } = outcome;
  const { statistics, ladder } = document;
  return [
    `${statistics.framesUsed} frame pairs, ${statistics.correspondences} correspondences, ${statistics.outliers.length} outliers.`,
    '',
    'Ladder of models, RMS in colour px (held out: whole sweeps left out in turn)',
    table(
      ['model', 'parameters', 'in sample', 'held out', '+/-', 'at its own range'],
      ladder.rows.map((row) => [
        row.kind === ladder.chosen ? `${row.kind} *` : row.kind,
        String(row.parameters),
        px(row.inSampleRmsPx),
        px(row.heldOutRmsPx),
        px(row.heldOutStandardErrorPx),
        px(row.ownRangeHeldOutRmsPx),
      ]),
    ),
    '* chosen: the simplest within one standard error of the best',
    '',
    `Held out ${px(statistics.heldOutRmsPx)} px, noise of the correspondences ${px(statistics.noiseFloorPx)} px`,
    table(
      ['range m', 'predicted sigma px', 'worst px'],
      verdict.predicted.map((p) => [
        Number.isFinite(p.rangeM) ? String(p.rangeM) : 'infinite',
        px(p.medianSigmaPx),
        px(p.worstSigmaPx),
      ]),
    ),
    '',
    `${verdict.passed ? 'Within' : 'OUTSIDE'} the tolerance of ${verdict.tolerancePx} px${verdict.reasons.length > 0 ? `: ${verdict.reasons.join('; ')}` : ''}`,
    ...certificateTime(document),
    offsetText(document),
    ...leftOutLines(document.statistics.leftOut),
    ...comparisonLines(outcome.comparison, outcome.lastHash ?? ''),
    ...document.weaknesses.map((w) => `Note: ${w.what}. ${w.record}`),
    '',
    ...files.map((file) => `  ${file}`),
  ].join('\n');
}

function leftOutLines(leftOut: readonly { readonly because: string; readonly frames: number }[]): string[] {
  if (leftOut.length === 0) return ['No frame was left out.'];
  return [
    '',
    table(
      ['left out because', 'frames'],
      leftOut.map((l) => [l.because, String(l.frames)]),
    ),
  ];
}

function comparisonLines(comparison: ComparisonOutcome | null, lastHash: string): string[] {
  if (comparison === null) return [];
  const text = comparisonText({ ...comparison, lastHash });
  if (comparison.kind === 'refused') return [text];
  return [text, table(['range', 'change RMS px', 'worst px', 'expected px'], comparisonRows(comparison))];
}

function benchJson(outcome: BenchOutcome): unknown {
  if (outcome.kind === 'refused') return outcome;
  const { ladder, statistics, weaknesses } = outcome.document;
  return {
    kind: outcome.kind,
    ladder,
    statistics,
    weaknesses,
    verdict: outcome.verdict,
    comparison: outcome.comparison,
    files: outcome.files,
  };
}

function verificationText(outcome: VerificationOutcome): string {
  if (outcome.kind === 'refused') return `No verdict: ${outcome.because}.\nTo cure it: ${outcome.record}`;
  return [
    `${outcome.passed ? 'PASS' : 'FAIL'}: ${outcome.reasons.join('; ')}`,
    `${outcome.frames} frame pairs, ${outcome.marks} marks judged, ${outcome.unsupported} outside the supported region.`,
    table(
      ['sweep', 'marks', 'RMS px', 'mean shift u px', 'v px'],
      outcome.bySweep.map((s) => [s.name, String(s.marks), px(s.rmsPx), px(s.shiftPx[0]), px(s.shiftPx[1])]),
    ),
  ].join('\n');
}
