import i18next from 'i18next';
import { initReactI18next } from 'react-i18next';
import { de } from './de/index.ts';
import { en } from './en/index.ts';

export const LANGUAGES = ['en', 'de'] as const;
export type Language = (typeof LANGUAGES)[number];

declare module 'i18next' {
  interface CustomTypeOptions {
    defaultNS: 'translation';
    resources: { translation: typeof en };
  }
}

const KEPT_AS = 'corposant.language';

const isLanguage = (word: string | null): word is Language => LANGUAGES.some((language) => language === word);

/** The language chosen before, otherwise the browser's, otherwise English. */
export function startLanguage(): void {
  const kept = localStorage.getItem(KEPT_AS);
  const language = isLanguage(kept) ? kept : navigator.language.startsWith('de') ? 'de' : 'en';
  // The catalogues are in the bundle, so this is done before the first line is drawn.
  void i18next.use(initReactI18next).init({
    lng: language,
    fallbackLng: 'en',
    resources: { en: { translation: en }, de: { translation: de } },
    interpolation: { escapeValue: false },
    initAsync: false,
  });
  document.documentElement.lang = language;
}

export const languageNow = (): Language => (i18next.language === 'de' ? 'de' : 'en');

export function changeLanguage(language: Language): void {
  localStorage.setItem(KEPT_AS, language);
  document.documentElement.lang = language;
  void i18next.changeLanguage(language);
}
