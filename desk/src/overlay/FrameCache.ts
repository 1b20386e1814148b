import { ask } from '../server/ask.ts';

/** At 2448 x 2048 a decoded picture is 20 MB: two seconds' worth at ten a second is what a tablet bears. */
const MOST_KEPT = 20;
const MOST_AT_ONCE = 4;

/** Colour pictures of a flight, fetched and decoded ahead of the cursor. */
export class FrameCache {
  readonly #flight: string;
  readonly #arrived: () => void;
  readonly #kept = new Map<number, ImageBitmap>();
  readonly #wanted: number[] = [];
  readonly #failed = new Set<number>();
  readonly #loading = new Set<number>();
  #closed = false;

  constructor(flight: string, arrived: () => void) {
    this.#flight = flight;
    this.#arrived = arrived;
  }

  get(frame: number): ImageBitmap | null {
    return this.#kept.get(frame) ?? null;
  }

  isMissing(frame: number): boolean {
    return this.#failed.has(frame);
  }

  /** The first is wanted now, the rest soon, in this order; what was wanted before and is not named is forgotten. */
  want(frames: readonly number[]): void {
    this.#wanted.length = 0;
    for (const frame of frames)
      if (!this.#kept.has(frame) && !this.#loading.has(frame) && !this.#failed.has(frame)) this.#wanted.push(frame);
    for (const frame of frames) {
      const picture = this.#kept.get(frame);
      if (!picture) continue;
      // Newest last, so that the oldest is the first to go.
      this.#kept.delete(frame);
      this.#kept.set(frame, picture);
    }
    this.#fetchMore();
  }

  close(): void {
    this.#closed = true;
    for (const picture of this.#kept.values()) picture.close();
    this.#kept.clear();
  }

  #fetchMore(): void {
    while (this.#loading.size < MOST_AT_ONCE && this.#wanted.length > 0 && !this.#closed)
      void this.#fetch(this.#wanted.shift()!);
  }

  async #fetch(frame: number): Promise<void> {
    this.#loading.add(frame);
    try {
      const answer = await ask(`/api/flights/${encodeURIComponent(this.#flight)}/frames/colour/${frame}`);
      const picture = await createImageBitmap(await answer.blob(), {
        premultiplyAlpha: 'none',
        colorSpaceConversion: 'none',
      });
      if (this.#closed) {
        picture.close();
        return;
      }
      this.#kept.set(frame, picture);
      for (const [old, oldest] of this.#kept) {
        if (this.#kept.size <= MOST_KEPT) break;
        oldest.close();
        this.#kept.delete(old);
      }
    } catch {
      this.#failed.add(frame);
    } finally {
      this.#loading.delete(frame);
    }
    this.#arrived();
    this.#fetchMore();
  }
}
