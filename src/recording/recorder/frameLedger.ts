import type { FrameFate, LedgerTotals, StreamName } from './FrameFate.ts';

/**
 * Counts what came in and what became of it. The two are counted apart, so that a frame that slips away shows; and fates count as
 * acknowledged only when the file has their chunk, so that after a full disk nothing is claimed that is not in it.
 */
export class FrameLedger {
  readonly #arrived = { uv: 0, colour: 0 };
  readonly #acknowledged = { uv: new Map<FrameFate, number>(), colour: new Map<FrameFate, number>() };
  readonly #open = { uv: new Map<FrameFate, number>(), colour: new Map<FrameFate, number>() };

  /** A frame came in; gives its number of arrival, from 0. */
  arrive(stream: StreamName): number {
    return this.#arrived[stream]++;
  }

  settle(stream: StreamName, fate: FrameFate): void {
    add(this.#open[stream], fate, 1);
  }

  /** Everything settled so far is in the file. */
  acknowledge(): void {
    for (const stream of ['uv', 'colour'] as const) {
      for (const [fate, n] of this.#open[stream]) add(this.#acknowledged[stream], fate, n);
      this.#open[stream].clear();
    }
  }

  /** The disk took no more: whatever is not acknowledged was lost to that. */
  loseTheRest(): void {
    for (const stream of ['uv', 'colour'] as const) {
      this.#open[stream].clear();
      const lost = this.#arrived[stream] - sum(this.#acknowledged[stream].values());
      if (lost > 0) add(this.#acknowledged[stream], 'dropped: disk full', lost);
    }
  }

  totals(putInOrder: { readonly uv: number; readonly colour: number }): LedgerTotals {
    const of = (stream: StreamName) => {
      const fates = new Map(this.#acknowledged[stream]);
      for (const [fate, n] of this.#open[stream]) add(fates, fate, n);
      return { arrived: this.#arrived[stream], fates: Object.fromEntries(fates), putInOrder: putInOrder[stream] };
    };
    return { uv: of('uv'), colour: of('colour') };
  }
}

const add = (to: Map<FrameFate, number>, fate: FrameFate, n: number): void => {
  to.set(fate, (to.get(fate) ?? 0) + n);
};
const sum = (counts: Iterable<number>): number => [...counts].reduce((total, n) => total + n, 0);

/** Frames that came in and have no fate, or more than one: 0 for each camera, or the ledger is wrong. */
export function unaccounted(totals: LedgerTotals): { readonly uv: number; readonly colour: number } {
  return {
    uv: totals.uv.arrived - sum(Object.values(totals.uv.fates)),
    colour: totals.colour.arrived - sum(Object.values(totals.colour.fates)),
  };
}
