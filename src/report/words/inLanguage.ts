import type { Words } from './en.ts';
import { RECORDED_IN_GERMAN } from './recordedInGerman.ts';

/**
 * What the evaluation wrote into the campaign, in the language of the report as far as its sentences are known there.
 * Sentences that are not, such as those of an owner's own rules, stay as they were recorded: a report must not reword
 * what decided a grade.
 */
export function inLanguage(recorded: string, words: Words): string {
  if (words.language !== 'de') return recorded;
  let text = RECORDED_IN_GERMAN.get(recorded) ?? recorded;
  // Single words are replaced only where they stand alone: inside a sentence they could be anything.
  for (const [english, german] of RECORDED_IN_GERMAN)
    if (english.endsWith('.')) text = text.replaceAll(english, german);
  return text;
}
