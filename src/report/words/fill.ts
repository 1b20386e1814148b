/** A sentence that depends on a count, by the plural categories that the language has. */
export interface Plural {
  readonly one: string;
  readonly other: string;
}

/**
 * Puts values into the {places} of a sentence.
 * @throws RangeError where a place has no value: a report with a hole in a sentence must not leave the house
 */
export function fill(sentence: string, values: Readonly<Record<string, string | number>>): string {
  return sentence.replace(/\{(\w+)\}/g, (_place, key: string) => {
    const value = values[key];
    if (value === undefined) throw new RangeError(`fill: no value for {${key}} in "${sentence}"`);
    return String(value);
  });
}

/** The sentence for this count in this language. */
export function fillPlural(
  language: string,
  sentences: Plural,
  count: number,
  values: Readonly<Record<string, string | number>>,
): string {
  return fill(new Intl.PluralRules(language).select(count) === 'one' ? sentences.one : sentences.other, values);
}
