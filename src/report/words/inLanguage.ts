import { en } from './en/index.ts';
import type { Words } from './Words.ts';

/** What is known of one language: sentences as they stand, and those with holes. */
interface Known {
  readonly words: Words;
  readonly exact: ReadonlyMap<string, string>;
  readonly patterns: readonly { readonly like: RegExp; readonly names: readonly string[]; readonly own: string }[];
}
const knownOf = new Map<string, Known>();

/** Remarks with their weight one after the other, sentences, and clauses: from the widest to the narrowest. */
const REMARKS = /((?<=\)); (?=\w+: ))/;
const SENTENCES = /((?<=\.) (?=[\p{Lu}\d]))/u;
const CLAUSES = /(; )/;

/**
 * What the evaluation recorded in English, in the language of the report as far as its sentences are known there.
 * Sentences that are not, such as those of an owner's own rules, stay as they were recorded: a report must not reword
 * what decided a grade.
 */
export function inLanguage(recorded: string, words: Words): string {
  if (words.language === en.language) return recorded;
  const known = knownOf.get(words.language) ?? knownIn(words);
  knownOf.set(words.language, known);
  return told(recorded, known);
}

function told(recorded: string, known: Known): string {
  const whole = known.exact.get(recorded);
  if (whole !== undefined) return whole;
  for (const joint of [REMARKS, SENTENCES]) if (joint.test(recorded)) return pieceByPiece(recorded, joint, known);
  const filled = filledIn(recorded, known);
  if (filled !== null) return filled;
  return CLAUSES.test(recorded) ? pieceByPiece(recorded, CLAUSES, known) : recorded;
}

const pieceByPiece = (recorded: string, joint: RegExp, known: Known): string =>
  recorded
    .split(joint)
    .map((piece, i) => (i % 2 === 0 ? told(piece, known) : piece))
    .join('');

function filledIn(recorded: string, known: Known): string | null {
  for (const { like, names, own } of known.patterns) {
    const found = like.exec(recorded);
    if (found === null) continue;
    const values = new Map(
      names.map((name, i) => [name, asFigure(found[i + 1]!, known) ?? told(found[i + 1]!, known)]),
    );
    return own.replace(/\{(\w+)\}/g, (hole, name: string) => values.get(name) ?? hole);
  }
  return null;
}

/** The recorded sentences, and the reasons and their terms as English tells them. */
function knownIn(words: Words): Known {
  const exact = new Map<string, string>();
  const patterns: Known['patterns'][number][] = [];
  const learn = (english: Readonly<Record<string, string>>, own: Readonly<Record<string, string>>): void => {
    for (const [key, sentence] of Object.entries(english))
      if (sentence.includes('{')) patterns.push({ ...patternOf(sentence), own: withoutFormats(own[key]!) });
      else exact.set(sentence, own[key]!);
  };
  learn(en.reasonTerms, words.reasonTerms);
  learn(en.reasonSentences, words.reasonSentences);
  learn(en.recorded, words.recorded);
  return { words, exact, patterns };
}

const withoutFormats = (sentence: string): string => sentence.replace(/\{(\w+)\|[^}]+\}/g, '{$1}');

function patternOf(sentence: string): { like: RegExp; names: string[] } {
  const names = [...sentence.matchAll(/\{(\w+)(?:\|[^}]+)?\}/g)].map(([, name]) => name!);
  const fixed = sentence.split(/\{[^}]*\}/).map((text) => text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&'));
  return { like: new RegExp(`^${fixed.join('(.+?)')}$`, 'u'), names };
}

/** A number as the language writes it; null for anything else. */
const asFigure = (text: string, { words }: Known): string | null =>
  /^-?\d+(\.\d+)?(e-?\d+)?$/.test(text) ? text.replace('.', words.decimalMark) : null;
