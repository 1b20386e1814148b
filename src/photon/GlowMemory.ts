import type { SpotWindow } from './SpotWindow.ts';

/** The own light of one region of a frame, row by row, DN. */
export interface GlowPatch {
  readonly leftPx: number;
  readonly topPx: number;
  readonly columns: number;
  readonly rows: number;
  readonly lightDn: ArrayLike<number>;
}

/** Relative standard deviation of what is taken off: of the share, and of light that a saturated core hid. */
const UNSURE = 0.1;

/**
 * The light of the glows of the frame before, pixel by pixel: what the phosphor gives off again of it lies in and around the
 * regions of this frame, whose charge it would add to.
 */
export class GlowMemory {
  #before: GlowPatch[] = [];
  #now: GlowPatch[] = [];
  #asked = false;

  /** Keeps the signal of a window, once freed of afterglow, for the frame that follows. */
  keep({ leftPx, topPx, columns, rows, signal }: SpotWindow): void {
    this.#now.push({ leftPx, topPx, columns, rows, lightDn: Array.from(signal.subarray(0, columns * rows)) });
  }

  /** Takes the afterglow of the frame before off the signal of a window. */
  takeOff(window: SpotWindow, share: number): void {
    this.#asked = true;
    if (!(share > 0)) return;
    const { leftPx, topPx, columns, rows, signal, variance } = window;
    for (const patch of this.#before) {
      const [left, right] = [Math.max(leftPx, patch.leftPx), Math.min(leftPx + columns, patch.leftPx + patch.columns)];
      const bottom = Math.min(topPx + rows, patch.topPx + patch.rows);
      for (let y = Math.max(topPx, patch.topPx); y < bottom; y++)
        for (let x = left; x < right; x++) {
          const k = (y - topPx) * columns + x - leftPx;
          if (variance[k] === Number.POSITIVE_INFINITY) continue;
          const afterglowDn = share * patch.lightDn[(y - patch.topPx) * patch.columns + x - patch.leftPx];
          signal[k] -= afterglowDn;
          variance[k] += (UNSURE * afterglowDn) ** 2;
        }
    }
  }

  /** Whether the frame has asked for the light of the one before; where not, it was read as it would be without. */
  get wasAsked(): boolean {
    return this.#asked;
  }

  /** Ends a frame: what was kept of it is now what was before. */
  nextFrame(): void {
    this.#before = this.#now;
    this.#now = [];
    this.#asked = false;
  }

  /** The light of the frame that was ended last. */
  state(): readonly GlowPatch[] {
    return this.#before.map((patch) => ({ ...patch, lightDn: Array.from(patch.lightDn) }));
  }

  /** As `state`, borrowed. */
  get before(): readonly GlowPatch[] {
    return this.#before;
  }

  resume(state: readonly GlowPatch[]): void {
    this.#before = [...state];
    this.#now = [];
  }
}
