/**
 * Where a text stops being JSON: index of the first character that no JSON text could have there (RFC 8259), or the length where
 * it ends too early or is JSON throughout. The engine's own message names no place for many faults.
 */
export function jsonFaultAt(text: string): number {
  const scan = new Scan(text);
  if (!scan.value()) return scan.at;
  scan.space();
  return scan.at;
}

const STRING_BODY = /(?:[\u0020\u0021\u0023-\u005b\u005d-\uffff]|\\(?:["\\/bfnrt]|u[0-9a-fA-F]{4}))*/y;
const NUMBER = /-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?/y;
const SPACE = /[ \t\n\r]*/y;

class Scan {
  at = 0;
  readonly text: string;

  constructor(text: string) {
    this.text = text;
  }

  space(): void {
    this.take(SPACE);
  }

  value(): boolean {
    this.space();
    const first = this.text[this.at];
    if (first === '{') return this.list('}', () => this.string() && this.symbol(':') && this.value());
    if (first === '[') return this.list(']', () => this.value());
    if (first === '"') return this.string();
    for (const word of ['true', 'false', 'null'])
      if (this.text.startsWith(word, this.at)) return this.skip(word.length);
    return this.take(NUMBER);
  }

  private list(end: string, item: () => boolean): boolean {
    this.at++;
    if (this.symbol(end)) return true;
    for (;;) {
      if (!item()) return false;
      if (this.symbol(end)) return true;
      if (!this.symbol(',')) return false;
    }
  }

  private string(): boolean {
    return this.symbol('"') && this.take(STRING_BODY) && this.text[this.at] === '"' && this.skip(1);
  }

  private symbol(wanted: string): boolean {
    this.space();
    return this.text[this.at] === wanted && this.skip(1);
  }

  private take(pattern: RegExp): boolean {
    pattern.lastIndex = this.at;
    const found = pattern.exec(this.text);
    return found !== null && this.skip(found[0].length);
  }

  private skip(characters: number): true {
    this.at += characters;
    return true;
  }
}
