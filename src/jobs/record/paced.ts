import type { IncomingItem } from '../../recording/recorder/IncomingItem.ts';

export interface Paced {
  readonly item: IncomingItem;
  /** How far recording is behind the stamps, seconds; 0 where the stream is not held to them. */
  readonly lagS: number;
}

/** Time, and a way to let it pass. */
export interface PacingClock {
  nowMs(): number;
  sleepMs(ms: number): Promise<void>;
}

/**
 * Gives out items when their stamps are due, counted from the first one, and says how late each is. This is how a camera that does
 * not wait behaves. A clock that was set, or a gap, starts the count anew.
 */
export async function* paced(items: AsyncIterable<IncomingItem>, clock: PacingClock): AsyncGenerator<Paced> {
  let startMs = Number.NaN;
  let startNs = Number.NaN;
  let newestNs = -Infinity;
  for await (const item of items) {
    const tNs = item.kind === 'pose' ? item.row.tNs : item.kind === 'uv' || item.kind === 'colour' ? item.tNs : null;
    if (tNs === null) {
      yield { item, lagS: 0 };
      continue;
    }
    if (!(Math.abs(tNs - newestNs) < JUMP_NS)) {
      startMs = clock.nowMs();
      startNs = tNs;
      newestNs = tNs;
    }
    newestNs = Math.max(newestNs, tNs);
    const dueMs = startMs + (tNs - startNs) / 1e6;
    const earlyMs = dueMs - clock.nowMs();
    if (earlyMs > 1) await clock.sleepMs(earlyMs);
    yield { item, lagS: Math.max(0, -earlyMs / 1000) };
  }
}

/** Stamps further apart than this are not a stream that goes on. */
const JUMP_NS = 5e9;

export const SYSTEM_CLOCK: PacingClock = {
  nowMs: () => performance.now(),
  sleepMs: (ms: number) => new Promise<void>((resolve) => setTimeout(resolve, ms)),
};
