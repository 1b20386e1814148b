import { REASONS_IN_ENGLISH } from '../../../grade/reasonsInEnglish.ts';
import { RECORDED_IN_ENGLISH } from '../recordedSentences.ts';
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
import { summary } from './summary.ts';
import { TERMS_IN_ENGLISH } from './terms.ts';

/** The report's words in English, by chapter. */
export const en = {
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
  reasonSentences: REASONS_IN_ENGLISH.sentences,
  reasonTerms: TERMS_IN_ENGLISH,
  recorded: RECORDED_IN_ENGLISH,
};
