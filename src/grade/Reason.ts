/** One step of a reasoning: which sentence, and the figures and terms in it. No language: each writes it in its own words. */
export interface Reason {
  readonly key: ReasonKey;
  /** Numbers as measured, terms by their names in the data (a kind of component, a weather, a rule of the table). */
  readonly values: Readonly<Record<string, string | number>>;
}

/** Every sentence that a grade may be reasoned with; a catalogue holds one for each. */
export const REASON_KEYS = [
  'component unknown',
  'fitting dry',
  'fitting dry, thin air',
  'string wet',
  'fitting wet',
  'wire field unknown, dry',
  'wire field unknown, wet',
  'wire expected',
  'wire borderline',
  'wire unexpected',
  'corona loss',
  'corona loss none',
  'strength',
  'passes one',
  'passes many',
  'change',
  'rule fired',
  'mains locked',
  'mains beating',
  'charge counted',
  'few frames',
  'flicker',
  'grown',
  'faded',
  'unchanged',
  'new',
  'gone',
  'not seen now',
  'not seen then',
  'too weak for now',
  'too weak for then',
  'coverage unknown now',
  'coverage unknown then',
  'kept out now',
  'kept out then',
  'other weather',
  'other band',
  'too uncertain',
  'rejected in review',
] as const;
export type ReasonKey = (typeof REASON_KEYS)[number];

/**
 * How a language writes reasons. In a sentence `{name}` is the value as it stands, `{name|term}` the language's own word for
 * it, `{name|2}` a number to so many decimals, `{name|e1}` one with its power of ten and so many decimals, `{name|%}` a share
 * in whole per cent.
 */
export interface ReasonCatalogue {
  readonly sentences: Readonly<Record<ReasonKey, string>>;
  readonly terms: Readonly<Record<string, string>>;
  fixed(value: number, decimals: number): string;
  scientific(value: number, decimals: number): string;
}

const LEAST_TOLD = 1e-9;

/**
 * A reason as a sentence.
 * @throws RangeError where the sentence asks for a value that the reason does not carry
 */
export function reasonText({ key, values }: Reason, catalogue: ReasonCatalogue): string {
  return catalogue.sentences[key].replace(/\{(\w+)(?:\|([^}]+))?\}/g, (_place, name: string, how?: string) => {
    const value = values[name];
    if (value === undefined) throw new RangeError(`reasonText: no value for {${name}} in "${key}"`);
    if (typeof value === 'string') return how === 'term' ? (catalogue.terms[value] ?? value) : value;
    if (how === undefined) return String(value);
    if (how === '%') return catalogue.fixed(100 * value, 0);
    if (!how.startsWith('e')) return catalogue.fixed(value, Number(how));
    // A probability that underflowed is small, not nothing.
    return value < LEAST_TOLD
      ? `<\u00a0${catalogue.scientific(LEAST_TOLD, 0)}`
      : catalogue.scientific(value, Number(how.slice(1)));
  });
}
