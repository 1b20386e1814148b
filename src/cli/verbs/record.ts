import { type Command, InvalidArgumentError } from 'commander';
import { RECORDER_DEFAULTS } from '../../jobs/record/Recorder.ts';
import { type RecordOutcome, recordFlight } from '../../jobs/record/recordFlight.ts';
import type { StreamTotals } from '../../recording/recorder/FrameFate.ts';
import { runVerb } from '../runVerb.ts';
import { table } from '../table.ts';

export function recordVerb(program: Command): void {
  program
    .command('record')
    .description('record a stream once: every photon event, and images around glows')
    .argument('<source>', 'flight folder (complete or being written), MCAP file, or - for MCAP on standard input')
    .requiredOption('--rig <file>', 'rig.json of the rig that flies')
    .requiredOption('--out <file>', 'MCAP file to record into; must not be there yet')
    .option('--realtime', 'hold the stream to its stamps, as cameras that do not wait')
    .option('--pre-roll <s>', 'images kept before a glow', seconds, RECORDER_DEFAULTS.preRollS)
    .option('--post-roll <s>', 'images kept after a glow', seconds, RECORDER_DEFAULTS.postRollS)
    .option(
      '--false-glows <number>',
      'glows that chance may make an hour',
      positive,
      RECORDER_DEFAULTS.falseGlowsPerHour,
    )
    .option('--idle <s>', 'a folder that has not grown for so long has ended', positive, 10)
    .option('--everything', 'keep every image')
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((source: string, options) =>
      runVerb(options, async (watch) => {
        const outcome = await recordFlight(
          source,
          {
            rigFile: options.rig,
            outFile: options.out,
            realtime: options.realtime === true,
            preRollS: options.preRoll,
            postRollS: options.postRoll,
            falseGlowsPerHour: options.falseGlows,
            idleS: options.idle,
            keepEverything: options.everything === true,
          },
          watch,
        );
        return { text: recordText(outcome), json: outcome, verdictNegative: outcome.ended === 'disk refused' };
      }),
    );
}

function positive(text: string): number {
  const value = Number(text);
  if (!(value > 0) || !Number.isFinite(value)) throw new InvalidArgumentError('expected a number above 0');
  return value;
}

function seconds(text: string): number {
  const value = Number(text);
  if (!(value >= 0 && value <= 10)) throw new InvalidArgumentError('expected seconds, 0 to 10');
  return value;
}

function recordText(outcome: RecordOutcome): string {
  const { totals, imageBytesIn, bytesOut } = outcome;
  const rows = (['uv', 'colour'] as const).flatMap((stream) => ledgerRows(stream, totals[stream]));
  const how = {
    'stream ended': 'The stream ended.',
    stopped: 'Stopped as asked.',
    'disk refused': `The disk took no more (${outcome.refusal}). What the table calls kept is in the file${
      outcome.closed ? '' : ',\nwhose index is written when it is next opened'
    }.`,
  }[outcome.ended];
  return [
    `${how} ${outcome.glows} glows, ${outcome.photonEvents} photon events in ${outcome.uvFramesWithEvents} ultraviolet frames, ${outcome.poses} poses${outcome.lostPoses > 0 ? ` (${outcome.lostPoses} unreadable)` : ''}.`,
    '',
    table(['camera', 'what became of a frame', 'frames'], rows),
    '',
    ...outcome.notes.map((note) => `- ${note}`),
    ...(outcome.furtherNotes > 0 ? [`- and ${outcome.furtherNotes} more notes, in the file`] : []),
    `${megabytes(bytesOut)} of ${megabytes(imageBytesIn)} MB kept (${((100 * bytesOut) / Math.max(1, imageBytesIn)).toFixed(1)} %): ${outcome.outFile}`,
  ].join('\n');
}

function ledgerRows(stream: string, { arrived, fates, putInOrder }: StreamTotals): string[][] {
  return [
    ...Object.entries(fates).map(([fate, n]) => [stream, fate, String(n)]),
    [stream, putInOrder > 0 ? `came in (${putInOrder} out of order, put right)` : 'came in', String(arrived)],
  ];
}

const megabytes = (bytes: number): string => (bytes / 1e6).toFixed(1);
