import type { PhotonEvents } from './PhotonEvents.ts';

/** One row of PhotonEvents. */
export interface PhotonEvent {
  readonly frame: number;
  readonly tNs: number;
  readonly xPx: number;
  readonly yPx: number;
  readonly charge: number;
  readonly sigmaPx: number;
  readonly flags: number;
}

type Columns = { -readonly [K in Exclude<keyof PhotonEvents, 'count'>]: PhotonEvents[K] };

const emptyColumns = (capacity: number): Columns => ({
  frame: new Int32Array(capacity),
  tNs: new Float64Array(capacity),
  xPx: new Float64Array(capacity),
  yPx: new Float64Array(capacity),
  charge: new Float32Array(capacity),
  sigmaPx: new Float32Array(capacity),
  flags: new Uint8Array(capacity),
});

/** Row `i` of a table by itself. */
export const eventAt = (events: PhotonEvents, i: number): PhotonEvent => ({
  frame: events.frame[i],
  tNs: events.tNs[i],
  xPx: events.xPx[i],
  yPx: events.yPx[i],
  charge: events.charge[i],
  sigmaPx: events.sigmaPx[i],
  flags: events.flags[i],
});

/** Columns of photon events that grow; rows keep the order in which they were added. */
export class PhotonEventsBuilder {
  #columns: Columns;
  #capacity: number;
  #count = 0;

  constructor(expectedEvents = 1024) {
    this.#capacity = Math.max(16, expectedEvents);
    this.#columns = emptyColumns(this.#capacity);
  }

  get count(): number {
    return this.#count;
  }

  add(event: PhotonEvent): void {
    if (this.#count === this.#capacity) this.#grow();
    const row = this.#count++;
    const to = this.#columns;
    to.frame[row] = event.frame;
    to.tNs[row] = event.tNs;
    to.xPx[row] = event.xPx;
    to.yPx[row] = event.yPx;
    to.charge[row] = event.charge;
    to.sigmaPx[row] = event.sigmaPx;
    to.flags[row] = event.flags;
  }

  /** A copy of what was added so far, with columns of exactly `count` rows; adding may go on. */
  finish(): PhotonEvents {
    return sliceEvents({ count: this.#count, ...this.#columns }, 0, this.#count);
  }

  /** Forgets all rows and keeps the memory: for a caller who stores chunk after chunk. */
  clear(): void {
    this.#count = 0;
  }

  #grow(): void {
    const old = this.#columns;
    this.#capacity *= 2;
    const grown = emptyColumns(this.#capacity);
    for (const name of Object.keys(old) as (keyof Columns)[]) grown[name].set(old[name]);
    this.#columns = grown;
  }
}

/** Rows `from` (inclusive) to `to` (exclusive) as a copy. */
export function sliceEvents(events: PhotonEvents, from: number, to: number): PhotonEvents {
  return {
    count: to - from,
    frame: events.frame.slice(from, to),
    tNs: events.tNs.slice(from, to),
    xPx: events.xPx.slice(from, to),
    yPx: events.yPx.slice(from, to),
    charge: events.charge.slice(from, to),
    sigmaPx: events.sigmaPx.slice(from, to),
    flags: events.flags.slice(from, to),
  };
}

/** The given tables one after the other; the caller gives them in order of frame. */
export function concatEvents(tables: readonly PhotonEvents[]): PhotonEvents {
  const count = tables.reduce((sum, table) => sum + table.count, 0);
  const all = emptyColumns(count);
  let row = 0;
  for (const table of tables) {
    for (const name of Object.keys(all) as (keyof Columns)[]) all[name].set(table[name].subarray(0, table.count), row);
    row += table.count;
  }
  return { count, ...all };
}
