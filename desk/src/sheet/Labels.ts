interface Box {
  readonly x: number;
  readonly y: number;
  readonly w: number;
  readonly h: number;
}

/** Places words beside their marks so that none covers another; a word that finds no room is left out. */
export class Labels {
  readonly #taken: Box[] = [];
  readonly #context: CanvasRenderingContext2D;
  readonly #width: number;
  readonly #height: number;

  constructor(context: CanvasRenderingContext2D, widthPx: number, heightPx: number) {
    this.#context = context;
    this.#width = widthPx;
    this.#height = heightPx;
  }

  /** Keeps words off a rectangle. */
  keepOff(x: number, y: number, w: number, h: number): void {
    this.#taken.push({ x, y, w, h });
  }

  /** @returns whether there was room */
  put(text: string, x: number, y: number, gapPx: number, fill: string, halo: string, font: string): boolean {
    const c = this.#context;
    c.font = font;
    const w = c.measureText(text).width;
    const h = 13;
    for (const [left, top] of [
      [x + gapPx, y - h / 2],
      [x - gapPx - w, y - h / 2],
      [x - w / 2, y - gapPx - h],
      [x - w / 2, y + gapPx],
      [x + 0.7 * gapPx, y - 0.7 * gapPx - h],
      [x + 0.7 * gapPx, y + 0.7 * gapPx],
    ] as const) {
      const box = { x: left - 2, y: top - 1, w: w + 4, h: h + 2 };
      if (left < 2 || top < 2 || left + w > this.#width - 2 || top + h > this.#height - 2) continue;
      if (this.#taken.some((b) => box.x < b.x + b.w && b.x < box.x + box.w && box.y < b.y + b.h && b.y < box.y + box.h))
        continue;
      this.#taken.push(box);
      c.textBaseline = 'middle';
      c.textAlign = 'left';
      c.lineJoin = 'round';
      c.lineWidth = 3;
      c.strokeStyle = halo;
      c.strokeText(text, left, top + h / 2);
      c.fillStyle = fill;
      c.fillText(text, left, top + h / 2);
      return true;
    }
    return false;
  }
}
