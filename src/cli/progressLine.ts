import type { JobWatch } from '../jobs/JobWatch.ts';

/**
 * Draws a job's progress on a stream: one line rewritten on a terminal, a line every ten seconds elsewhere. Rate and
 * time left come from the last stretch of the step, so that a resumed job is not flattered by what it skipped.
 */
export function progressLine(
  out: NodeJS.WriteStream,
  quiet: boolean,
  signal: AbortSignal,
): JobWatch & { finish(): void } {
  const everyMs = out.isTTY ? 100 : 10_000;
  let step = '';
  let startedMs = 0;
  let startedDone = 0;
  let drawnMs = 0;
  let open = false;

  const closeLine = (): void => {
    if (open) out.write('\n');
    open = false;
  };
  return {
    signal,
    progress(name, done, total, unit) {
      if (quiet) return;
      const nowMs = performance.now();
      if (name !== step) {
        closeLine();
        step = name;
        startedMs = nowMs;
        startedDone = done;
        drawnMs = Number.NEGATIVE_INFINITY;
      }
      if (nowMs - drawnMs < everyMs && done < total) return;
      drawnMs = nowMs;
      const seconds = (nowMs - startedMs) / 1000;
      const rate = seconds > 0.2 ? (done - startedDone) / seconds : 0;
      const share = total > 0 ? `${Math.floor((100 * done) / total)} %` : '';
      const left = rate > 0 && done < total ? `, ${duration((total - done) / rate)} left` : '';
      const speed = rate > 0 ? `, ${rate >= 10 ? Math.round(rate) : rate.toFixed(1)} ${unit}/s` : '';
      const text = `${name}: ${done} of ${total} ${unit} (${share})${speed}${left}`;
      if (out.isTTY) {
        out.write(`\r${text.slice(0, (out.columns ?? 80) - 1).padEnd((out.columns ?? 80) - 1)}`);
        open = true;
        if (done >= total) closeLine();
      } else out.write(`${text}\n`);
    },
    note(text) {
      if (quiet) return;
      closeLine();
      out.write(`${text}\n`);
    },
    finish: closeLine,
  };
}

/** "45 s", "3 min 20 s", "2 h 05 min". */
export function duration(seconds: number): string {
  const whole = Math.max(0, Math.round(seconds));
  if (whole < 60) return `${whole} s`;
  if (whole < 3600) return `${Math.floor(whole / 60)} min ${String(whole % 60).padStart(2, '0')} s`;
  return `${Math.floor(whole / 3600)} h ${String(Math.floor((whole % 3600) / 60)).padStart(2, '0')} min`;
}
