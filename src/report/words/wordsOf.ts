import { de } from './de.ts';
import { en, type Words } from './en.ts';

export const REPORT_LANGUAGES = ['en', 'de'] as const;
export type ReportLanguage = (typeof REPORT_LANGUAGES)[number];

const catalogues: Readonly<Record<ReportLanguage, Words>> = { en, de };

export const wordsOf = (language: ReportLanguage): Words => catalogues[language];
