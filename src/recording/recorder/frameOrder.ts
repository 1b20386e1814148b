/** What became of a frame on its way into order. */
export type Ordered<T> =
  | { readonly kind: 'next'; readonly item: T; readonly segment: number; readonly gapNs: number }
  | { readonly kind: 'dropped'; readonly item: T; readonly because: 'late' | 'repeated' }
  | { readonly kind: 'clock stepped back'; readonly byNs: number; readonly segment: number };

/** Frames held back so that neighbours that changed places are put right. */
const HELD = 2;
/** So many frames in a row, rising among themselves yet all before the last one given out, are a clock that was set back. */
const STEP_FRAMES = 5;

/**
 * Puts the frames of one camera in order of their stamps, holding back two. A frame that comes later than that is dropped,
 * as is a stamp seen before. A clock that was set back is told from late frames by their number: then a new segment begins,
 * in which stamps rise again, and no frame is lost (set back by less than eight frames, up to four pass for late). A single stamp far in the future stays held back and does no harm.
 */
export class FrameOrder<T extends { readonly tNs: number }> {
  /** Stamps rise within a segment only. */
  segment = 0;
  /** Frames that came out of order and were put right. */
  putRight = 0;
  readonly #held: T[] = [];
  /** Frames that came too late, or the first ones after the clock was set back. */
  readonly #doubtful: T[] = [];
  #lastNs = -Infinity;

  push(item: T): Ordered<T>[] {
    const { tNs } = item;
    if (tNs === this.#lastNs || [...this.#held, ...this.#doubtful].some((other) => other.tNs === tNs))
      return [{ kind: 'dropped', item, because: 'repeated' }];
    if (tNs < this.#lastNs) {
      const newest = this.#doubtful.at(-1);
      if (newest !== undefined && tNs < newest.tNs) return [{ kind: 'dropped', item, because: 'late' }];
      this.#doubtful.push(item);
      return this.#doubtful.length < STEP_FRAMES ? [] : this.#stepBack();
    }
    const out = this.#dropDoubtful();
    if (this.#held.some((other) => other.tNs > tNs)) this.putRight++;
    this.#held.push(item);
    this.#held.sort((a, b) => a.tNs - b.tNs);
    if (this.#held.length > HELD) out.push(this.#giveOut());
    return out;
  }

  /** The stream has ended, or pauses: gives out what was held back. */
  flush(): Ordered<T>[] {
    const out = this.#dropDoubtful();
    while (this.#held.length > 0) out.push(this.#giveOut());
    return out;
  }

  #giveOut(): Ordered<T> {
    const item = this.#held.shift()!;
    const gapNs = item.tNs - this.#lastNs;
    this.#lastNs = item.tNs;
    return { kind: 'next', item, segment: this.segment, gapNs };
  }

  #dropDoubtful(): Ordered<T>[] {
    return this.#doubtful.splice(0).map((item) => ({ kind: 'dropped', item, because: 'late' }));
  }

  #stepBack(): Ordered<T>[] {
    const after = this.#doubtful.splice(0);
    const out: Ordered<T>[] = [];
    while (this.#held.length > 0) out.push(this.#giveOut());
    const byNs = this.#lastNs - after[0].tNs;
    this.#lastNs = -Infinity;
    out.push({ kind: 'clock stepped back', byNs, segment: ++this.segment });
    for (const item of after) out.push(...this.push(item));
    return out;
  }
}
