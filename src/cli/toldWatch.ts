import type { JobWatch } from '../jobs/JobWatch.ts';

/** Progress is told at most so often: more would only keep both processes busy. */
const EVERY_MS = 100;

/**
 * Tells the process that started this one what the job does, over the channel between them, and stops where it can go on later when
 * that process asks for it or is gone.
 */
export function toldWatch(abort: AbortController): JobWatch & { finish(): void } {
  let step = '';
  let toldMs = Number.NEGATIVE_INFINITY;
  const tell = (message: object): void => {
    if (process.connected) process.send?.(message);
  };
  const onMessage = (message: unknown): void => {
    if ((message as { stop?: boolean } | null)?.stop) abort.abort();
  };
  const onGone = (): void => abort.abort();
  process.on('message', onMessage);
  process.on('disconnect', onGone);
  return {
    signal: abort.signal,
    progress(name, done, total, unit) {
      const nowMs = performance.now();
      if (name === step && nowMs - toldMs < EVERY_MS && done < total) return;
      step = name;
      toldMs = nowMs;
      tell({ progress: { step: name, done, total, unit } });
    },
    note: (text) => tell({ note: text }),
    finish() {
      process.off('message', onMessage);
      process.off('disconnect', onGone);
      if (process.connected) process.disconnect();
    },
  };
}
