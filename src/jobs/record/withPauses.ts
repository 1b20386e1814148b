import type { IncomingItem } from '../../recording/recorder/IncomingItem.ts';

/** After so long without an item, what is held goes to the disk. */
const PAUSE_MS = 400;

/** The items as they come, a `pause` where none comes for a while, and an end when asked to stop, even while waiting. */
export async function* withPauses(
  items: AsyncIterable<IncomingItem>,
  signal: AbortSignal | undefined,
): AsyncGenerator<IncomingItem> {
  const iterator = items[Symbol.asyncIterator]();
  let stop = (): void => undefined;
  const onAbort = (): void => stop();
  signal?.addEventListener('abort', onAbort);
  try {
    while (!signal?.aborted) {
      const next = iterator.next();
      let first = await firstOf(next, PAUSE_MS);
      if (first === 'pause') {
        yield { kind: 'pause' };
        first = await firstOf(next, null);
      }
      if (first === 'stop' || first === 'pause' || first.done) return;
      yield first.value;
    }
  } finally {
    signal?.removeEventListener('abort', onAbort);
    // A generator that waits for input ends only when that comes; nobody waits for it here.
    iterator.return?.()?.catch(() => undefined);
  }

  /** Races by hand: a promise that lives as long as the stream would remember every race it was in. */
  function firstOf(next: Promise<IteratorResult<IncomingItem>>, pauseMs: number | null) {
    return new Promise<IteratorResult<IncomingItem> | 'pause' | 'stop'>((resolve, reject) => {
      const timer = pauseMs === null ? undefined : setTimeout(() => resolve('pause'), pauseMs);
      stop = () => {
        clearTimeout(timer);
        resolve('stop');
      };
      if (signal?.aborted) stop();
      next.then(resolve, reject).finally(() => clearTimeout(timer));
    });
  }
}
