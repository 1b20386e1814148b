/** A column of numbers of unknown length: doubles as it fills, so that an hour at 200 Hz costs a few copies. */
export class GrowingColumn {
  private values = new Float64Array(1024);
  private count = 0;

  push(value: number): void {
    if (this.count === this.values.length) {
      const twice = new Float64Array(2 * this.count);
      twice.set(this.values);
      this.values = twice;
    }
    this.values[this.count++] = value;
  }

  get length(): number {
    return this.count;
  }

  /** The last value, or -Infinity where there is none. */
  get last(): number {
    return this.count === 0 ? -Infinity : this.values[this.count - 1];
  }

  toArray(): Float64Array {
    return this.values.slice(0, this.count);
  }
}
