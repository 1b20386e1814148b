import { type Reason, type ReasonCatalogue, reasonText } from '../grade/Reason.ts';
import type { NumberText } from './numberText.ts';
import { inLanguage } from './words/inLanguage.ts';
import type { Words } from './words/Words.ts';

/** How the report's language writes a reason: its sentences, its terms and its numbers. */
function catalogueOf(words: Words, numbers: NumberText): ReasonCatalogue {
  return {
    sentences: words.reasonSentences,
    terms: words.reasonTerms,
    fixed: (value, decimals) => numbers.fixed(value, decimals),
    scientific: (value, decimals) => numbers.powerOfTen(value, decimals),
  };
}

export const reasonInWords = (reason: Reason, words: Words, numbers: NumberText): string =>
  // A figure and its per cent stay on one line.
  reasonText(reason, catalogueOf(words, numbers)).replace(/(?<=\d) %/g, '\u00a0%');

/** The reasons in the report's language; those of campaigns of earlier releases as they were recorded. */
export const reasonsInWords = (
  reasons: readonly Reason[] | undefined,
  recorded: string,
  words: Words,
  numbers: NumberText,
): string =>
  reasons === undefined
    ? inLanguage(recorded, words)
    : reasons.map((reason) => reasonInWords(reason, words, numbers)).join(' ');
