const COMMA = 44;
const POINT = 46;
const ZERO = 48;
const DECIMAL = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/;
/** Powers of ten that a float64 holds exactly. */
const POWER_OF_TEN = Float64Array.from({ length: 23 }, (_, k) => Number(`1e${k}`));

/**
 * One row of a table, still as bytes: numbers are read from them without a string in between, which for an hour of
 * trajectory is the difference between seconds and many seconds. Borrowed: the next row overwrites it.
 */
export class CsvRow {
  private readonly from: Int32Array;
  private readonly to: Int32Array;
  private readonly decoder = new TextDecoder('utf-8', { fatal: true });
  private bytes: Buffer = Buffer.alloc(0);

  /** @param cells number of cells that were asked for */
  constructor(cells: number) {
    this.from = new Int32Array(cells).fill(-1);
    this.to = new Int32Array(cells).fill(-1);
  }

  /** Whether the file has this column at all. */
  has(cell: number): boolean {
    return this.from[cell] >= 0;
  }

  /** @throws TypeError where the bytes are not UTF-8 */
  text(cell: number): string {
    return this.decoder.decode(this.bytes.subarray(this.from[cell], this.to[cell]));
  }

  /** The decimal number in a cell, correctly rounded; NaN where it holds anything else. */
  number(cell: number): number {
    const { bytes } = this;
    const end = this.to[cell];
    let at = this.from[cell];
    const negative = bytes[at] === 45;
    if (negative) at++;
    let mantissa = 0;
    let digits = 0;
    let point = -1;
    for (; at < end; at++) {
      const byte = bytes[at];
      if (byte >= ZERO && byte < ZERO + 10) {
        mantissa = mantissa * 10 + (byte - ZERO);
        digits++;
      } else if (byte === POINT && point < 0) point = digits;
      else return this.unusualNumber(cell);
    }
    // Up to 15 digits and 22 decimals both numbers below are exact, so that one division rounds once, as it should.
    // Source: Clinger, How to read floating point numbers accurately, PLDI 1990.
    if (digits === 0 || digits > 15) return this.unusualNumber(cell);
    const value = point < 0 ? mantissa : mantissa / POWER_OF_TEN[digits - point];
    return negative ? -value : value;
  }

  private unusualNumber(cell: number): number {
    const text = this.text(cell).trim();
    return DECIMAL.test(text) ? Number(text) : Number.NaN;
  }

  /**
   * Takes the cells of the line `bytes[start, end)`, which has no quotes.
   * @param placeOf for each column of the file the place among the cells asked for, or -1
   * @returns how many cells the line has
   */
  takeLine(bytes: Buffer, start: number, end: number, placeOf: Int32Array): number {
    this.bytes = bytes;
    let column = 0;
    let from = start;
    for (let at = start; at <= end; at++) {
      if (at < end && bytes[at] !== COMMA) continue;
      const place = column < placeOf.length ? placeOf[column] : -1;
      if (place >= 0) {
        this.from[place] = from;
        this.to[place] = at;
      }
      column++;
      from = at + 1;
    }
    return column;
  }

  /** Takes cells that had to be unpacked from quotes. */
  takeCells(cells: readonly string[], placeOf: Int32Array): void {
    const parts = cells.map((cell) => Buffer.from(cell));
    this.bytes = Buffer.concat(parts);
    let from = 0;
    parts.forEach((part, column) => {
      const place = column < placeOf.length ? placeOf[column] : -1;
      if (place >= 0) {
        this.from[place] = from;
        this.to[place] = from + part.length;
      }
      from += part.length;
    });
  }
}
