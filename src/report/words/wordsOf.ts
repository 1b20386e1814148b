import { de } from './de/index.ts';
import { en } from './en/index.ts';
import type { Words } from './Words.ts';

export const REPORT_LANGUAGES = ['en', 'de'] as const;
export type ReportLanguage = (typeof REPORT_LANGUAGES)[number];

const catalogues: Readonly<Record<ReportLanguage, Words>> = { en, de };

export const wordsOf = (language: ReportLanguage): Words => catalogues[language];
