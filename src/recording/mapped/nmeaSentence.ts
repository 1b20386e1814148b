/** One sentence of NMEA 0183: talker and kind apart, fields as they stand. */
export interface NmeaSentence {
  readonly talker: string;
  /** "GGA", "RMC", "GST", "ZDA" ... */
  readonly kind: string;
  readonly fields: readonly string[];
}

export type NmeaOutcome =
  | ({ readonly kind: 'sentence' } & { readonly sentence: NmeaSentence })
  /** A line that is none at all: a log's own header, an empty line. */
  | { readonly kind: 'no sentence' }
  | { readonly kind: 'broken'; readonly because: 'checksum missing' | 'checksum wrong' | 'cut off' };

/**
 * Takes a line apart, wherever on it the sentence begins (loggers write a stamp before it). The checksum is the exclusive
 * or of all characters between "$" and "*", two hexadecimal digits. Source: NMEA 0183 (from memory); examples in the test.
 */
export function nmeaSentence(line: string): NmeaOutcome {
  const start = line.search(/[$!][A-Z]{2}[A-Z0-9]{3},/);
  if (start < 0) return { kind: 'no sentence' };
  const found = /^.([^*$!]*)(?:\*([0-9A-Fa-f]{0,2}))?/.exec(line.slice(start)) as RegExpExecArray;
  const [whole, body, checksum] = found;
  if (checksum === undefined)
    return { kind: 'broken', because: line.length > start + whole.length ? 'cut off' : 'checksum missing' };
  if (checksum.length < 2) return { kind: 'broken', because: 'cut off' };
  let sum = 0;
  for (let i = 0; i < body.length; i++) sum ^= body.charCodeAt(i);
  if (sum !== Number.parseInt(checksum, 16)) return { kind: 'broken', because: 'checksum wrong' };
  const [address, ...fields] = body.split(',');
  return { kind: 'sentence', sentence: { talker: address.slice(0, 2), kind: address.slice(2), fields } };
}
