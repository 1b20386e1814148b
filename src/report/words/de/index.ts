import type { Words } from '../Words.ts';
import { appendix } from './appendix.ts';
import { cautions } from './cautions.ts';
import { changes } from './changes.ts';
import { cover } from './cover.ts';
import { coverage } from './coverage.ts';
import { finding } from './finding.ts';
import { glossary } from './glossary.ts';
import { handOver } from './handOver.ts';
import { maps } from './maps.ts';
import { method } from './method.ts';
import { REASONS_IN_GERMAN, TERMS_IN_GERMAN } from './reasons.ts';
import { RECORDED_IN_GERMAN } from './recorded.ts';
import { summary } from './summary.ts';

/** The report's words in German, by chapter. */
export const de: Words = {
  ...cover,
  ...summary,
  ...maps,
  ...finding,
  ...coverage,
  ...method,
  ...appendix,
  ...changes,
  ...handOver,
  ...cautions,
  ...glossary,
  reasonSentences: REASONS_IN_GERMAN,
  reasonTerms: TERMS_IN_GERMAN,
  recorded: RECORDED_IN_GERMAN,
};
