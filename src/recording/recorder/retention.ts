/** A frame that waits to know whether a glow is near. */
export interface Waiting {
  readonly tNs: number;
}

/**
 * Holds the last frames of one camera until it is certain whether a glow comes near enough for them to be kept. Memory is
 * bounded by time and, should time stand still, by number.
 */
export class Retention<T extends Waiting> {
  readonly #preRollNs: number;
  readonly #postRollNs: number;
  readonly #most: number;
  readonly #waiting: T[] = [];
  #glow = { fromNs: Infinity, untilNs: -Infinity };

  constructor(preRollNs: number, postRollNs: number, most: number) {
    this.#preRollNs = preRollNs;
    this.#postRollNs = postRollNs;
    this.#most = most;
  }

  /** A frame came: `kept` where it lies in the surroundings of the last glow; otherwise it waits. */
  offer(frame: T): 'kept' | 'waits' {
    if (frame.tNs >= this.#glow.fromNs && frame.tNs <= this.#glow.untilNs) return 'kept';
    this.#waiting.push(frame);
    return 'waits';
  }

  /** Something glows at this time: gives the waiting frames that belong to it, oldest first. */
  glowAt(tNs: number): T[] {
    const fromNs = tNs - this.#preRollNs;
    const untilNs = tNs + this.#postRollNs;
    this.#glow =
      fromNs <= this.#glow.untilNs ? { fromNs: Math.min(fromNs, this.#glow.fromNs), untilNs } : { fromNs, untilNs };
    const kept = this.#waiting.filter((frame) => frame.tNs >= fromNs && frame.tNs <= untilNs);
    if (kept.length > 0) {
      const left = this.#waiting.filter((frame) => !kept.includes(frame));
      this.#waiting.splice(0, this.#waiting.length, ...left);
    }
    return kept;
  }

  /** Time has come to `newestNs`: gives the frames that no later glow can reach, oldest first. */
  release(newestNs: number): T[] {
    const out: T[] = [];
    while (
      this.#waiting.length > 0 &&
      (this.#waiting[0].tNs < newestNs - this.#preRollNs || this.#waiting.length > this.#most)
    )
      out.push(this.#waiting.shift()!);
    return out;
  }

  /** The stream has ended, or its clock was set: gives everything that waits, and forgets the last glow. */
  releaseAll(): T[] {
    this.#glow = { fromNs: Infinity, untilNs: -Infinity };
    return this.#waiting.splice(0);
  }
}
