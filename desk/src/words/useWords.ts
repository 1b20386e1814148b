import { useMemo } from 'react';
import { useTranslation } from 'react-i18next';
import { type NumberText, numberTextFor } from '../../../src/report/numberText.ts';
import { inLanguage } from '../../../src/report/words/inLanguage.ts';
import type { Words as ReportWords } from '../../../src/report/words/Words.ts';
import { wordsOf } from '../../../src/report/words/wordsOf.ts';
import { languageNow } from './language.ts';

/**
 * Everything that a view says: `t` the desk's own sentences, `terms` the words that desk and report share (kinds,
 * priorities, states), `told` what the evaluation recorded in English, `numbers` how figures are printed in the language.
 */
export function useWords() {
  const { t, i18n } = useTranslation();
  // biome-ignore lint/correctness/useExhaustiveDependencies: the language is what the words depend on
  return useMemo(() => {
    const terms: ReportWords = wordsOf(languageNow());
    const numbers: NumberText = numberTextFor(terms);
    // British English counts hours to 24, as survey sheets do.
    const told = (recorded: string): string => inLanguage(recorded, terms);
    return { t, terms, told, numbers, language: languageNow(), locale: `${terms.language}-${terms.region}` };
  }, [t, i18n.language]);
}
