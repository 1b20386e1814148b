import { InputError } from '../input/InputError.ts';
import { Interrupted, type JobWatch } from '../jobs/JobWatch.ts';
import { EXIT } from './exitCodes.ts';
import { progressLine } from './progressLine.ts';
import { toldWatch } from './toldWatch.ts';

/** What a verb gives back: a text for people, a value for machines, and whether its verdict is good. */
export interface VerbResult {
  readonly text: string;
  readonly json: unknown;
  readonly verdictNegative?: boolean;
  /** Everything was said already. */
  readonly silent?: boolean;
}

/**
 * Runs one verb and ends the process with the right code. Results go to standard output, everything else to standard
 * error, so that `--json` output can be piped. The first Ctrl-C asks the job to stop where it can go on later, the
 * second ends it at once.
 */
export async function runVerb(
  options: { json?: boolean; quiet?: boolean },
  verb: (watch: JobWatch) => Promise<VerbResult>,
): Promise<void> {
  const abort = new AbortController();
  const onSignal = (): void => {
    if (abort.signal.aborted) process.exit(EXIT.interrupted);
    abort.abort();
  };
  process.on('SIGINT', onSignal);
  process.on('SIGTERM', onSignal);
  // Started by the desk: progress goes over the channel between the two.
  const watch = process.connected
    ? toldWatch(abort)
    : progressLine(process.stderr, options.quiet === true, abort.signal);
  try {
    const result = await verb(watch);
    watch.finish();
    if (!result.silent)
      process.stdout.write(options.json ? `${JSON.stringify(result.json, null, 2)}\n` : `${result.text}\n`);
    process.exitCode = result.verdictNegative ? EXIT.verdictNegative : EXIT.done;
  } catch (error) {
    watch.finish();
    process.exitCode = reportFailure(error, options.json === true);
  } finally {
    process.off('SIGINT', onSignal);
    process.off('SIGTERM', onSignal);
  }
}

function reportFailure(error: unknown, json: boolean): number {
  if (error instanceof InputError) {
    if (json) process.stdout.write(`${JSON.stringify({ error: error.fault }, null, 2)}\n`);
    process.stderr.write(`${error.message}\n`);
    return EXIT.badInput;
  }
  if (error instanceof Interrupted) {
    process.stderr.write(`${error.message}\n`);
    return EXIT.interrupted;
  }
  process.stderr.write(`This is a fault in Corposant, not in your data. Please report it with the text below.\n`);
  process.stderr.write(`${error instanceof Error ? (error.stack ?? error.message) : String(error)}\n`);
  return EXIT.fault;
}
