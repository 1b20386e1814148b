import { createReadStream } from 'node:fs';
import { readFile, stat } from 'node:fs/promises';
import { InputError } from '../../input/InputError.ts';
import { type ByteSink, fileSink } from '../../recording/ByteSink.ts';
import { checkRigFits } from '../../recording/checkRigFits.ts';
import { readRig } from '../../recording/readRig.ts';
import { followFolder } from '../../recording/recorder/followFolder.ts';
import { followMcap } from '../../recording/recorder/followMcap.ts';
import { FrameLedger, unaccounted } from '../../recording/recorder/frameLedger.ts';
import type { Incoming, IncomingItem } from '../../recording/recorder/IncomingItem.ts';
import { RecordingWriter } from '../../recording/recorder/RecordingWriter.ts';
import { unreadable } from '../../recording/unreadable.ts';
import type { JobWatch } from '../JobWatch.ts';
import { SOFTWARE } from '../software.ts';
import { type Paced, type PacingClock, paced, SYSTEM_CLOCK } from './paced.ts';
import { Recorder, type RecorderOptions } from './Recorder.ts';
import type { RecorderSummary } from './RecorderTally.ts';
import { withPauses } from './withPauses.ts';

export interface RecordOptions extends RecorderOptions {
  readonly rigFile: string;
  readonly outFile: string;
  /** Holds the stream to its stamps, as cameras do that do not wait. */
  readonly realtime: boolean;
  /** A growing folder that has not grown for so long has ended. */
  readonly idleS: number;
  /** What `realtime` goes by; the system's where not given. */
  readonly clock?: PacingClock;
}

export interface RecordOutcome extends RecorderSummary {
  readonly outFile: string;
  readonly bytesOut: number;
  /** How it ended. */
  readonly ended: 'stream ended' | 'stopped' | 'disk refused';
  /** What the disk said. */
  readonly refusal: string | null;
  /** Whether the file has its index; without, it is written when the file is next opened. */
  readonly closed: boolean;
}

/**
 * Records a stream into an MCAP file: see Recorder for what is kept. The source is a flight folder, complete or being written,
 * an MCAP file, or `-` for MCAP on standard input. A stream that ends, a stop, and a disk that takes no more all leave a readable file.
 * @throws InputError for a source or rig that is not right, and an output file that is there already
 */
export async function recordFlight(source: string, options: RecordOptions, watch: JobWatch): Promise<RecordOutcome> {
  const incoming = await openSource(source, options, watch);
  const { rig, hash } = await readRig(options.rigFile);
  checkRigFits(rig, incoming.description, source);
  const rigJson = await readFile(options.rigFile, 'utf8');
  const sink = await newFile(options.outFile);
  try {
    return await recordStream(incoming, { rig, rigHash: hash, rigJson }, sink, options, watch);
  } finally {
    await sink.close();
    // Where we stopped first, standard input would keep the process waiting.
    if (source === '-') process.stdin.destroy();
  }
}

/** As `recordFlight`, from a stream into a sink that are open already. */
export async function recordStream(
  incoming: Incoming,
  { rig, rigHash, rigJson }: { rig: Awaited<ReturnType<typeof readRig>>['rig']; rigHash: string; rigJson: string },
  sink: ByteSink,
  options: RecordOptions,
  watch: JobWatch,
): Promise<RecordOutcome> {
  const { description } = incoming;
  const ledger = new FrameLedger();
  const head = { software: SOFTWARE, description, rigJson, rigHash };
  const writer = await RecordingWriter.begin(sink, head, () => {
    ledger.acknowledge();
    recorder.acknowledge();
  });
  const recorder = new Recorder(writer, ledger, rig, description, options);
  let ended: RecordOutcome['ended'] = 'stream ended';
  let refusal: string | null = null;
  let closed = true;
  try {
    for await (const { item, lagS } of timed(withPauses(incoming.items(), watch.signal), options)) {
      await recorder.take(item, lagS);
      tell(recorder, item, watch);
    }
    if (watch.signal?.aborted) ended = 'stopped';
    await recorder.finish();
    await writer.finish(closingWords(recorder));
  } catch (error) {
    if (!isRefusal(error)) throw error;
    ended = 'disk refused';
    refusal = (error as Error).message;
    ledger.loseTheRest();
    recorder.loseTheRest();
    closed = await writer.closeAfterFailure();
  }
  const summary = recorder.summary();
  const left = unaccounted(summary.totals);
  if (left.uv !== 0 || left.colour !== 0)
    throw new Error(`the ledger does not add up: ${JSON.stringify(left)} left over`);
  return { ...summary, outFile: options.outFile, bytesOut: writer.acknowledgedBytes, ended, refusal, closed };
}

/** What a disk says that is full, or gone; anything else is a fault of ours. */
const isRefusal = (error: unknown): boolean =>
  ['ENOSPC', 'EDQUOT', 'EFBIG', 'EIO', 'EROFS', 'ENODEV'].includes((error as NodeJS.ErrnoException).code ?? '');

async function* timed(items: AsyncIterable<IncomingItem>, { realtime, clock }: RecordOptions): AsyncGenerator<Paced> {
  if (realtime) yield* paced(items, clock ?? SYSTEM_CLOCK);
  else for await (const item of items) yield { item, lagS: 0 };
}

function closingWords(recorder: Recorder): Record<string, string> {
  const { notes: _, ...summary } = recorder.summary();
  return { summary: JSON.stringify(summary), finder: JSON.stringify(recorder.finderStatistics()) };
}

const TELL_EVERY_FRAMES = 250;

function tell(recorder: Recorder, item: IncomingItem, watch: JobWatch): void {
  if (item.kind !== 'uv') return;
  const { totals, glows } = recorder.summary();
  if (totals.uv.arrived % TELL_EVERY_FRAMES === 0)
    watch.progress(`recording, ${glows} glows`, totals.uv.arrived, totals.uv.arrived, 'frames');
}

async function openSource(source: string, options: RecordOptions, watch: JobWatch): Promise<Incoming> {
  if (source === '-') return followMcap(process.stdin, 'standard input');
  const seen = await stat(source).catch((error: unknown) => {
    throw new InputError({
      file: source,
      found: unreadable(error),
      expected: 'a flight folder, an MCAP file, or - for MCAP on standard input',
      todo: 'Check the path.',
    });
  });
  if (seen.isDirectory()) return followFolder(source, { idleS: options.idleS, signal: watch.signal });
  return followMcap(createReadStream(source, { highWaterMark: 1 << 20 }), source);
}

async function newFile(file: string): Promise<ByteSink> {
  if (await stat(file).catch(() => null))
    throw new InputError({
      file,
      found: 'a file of that name',
      expected: 'a new file to record into',
      todo: 'Choose another name: a recording is never written over.',
    });
  return fileSink(file).catch((error: unknown) => {
    throw new InputError({
      file,
      found: unreadable(error),
      expected: 'a place that can be written to',
      todo: 'Check the folder and its permissions.',
    });
  });
}
