/** How often a change is told that was none, and how surely one that was: two campaigns of one line, drawn event by event. */
import { CHANGE_PARAMETERS } from '../../src/grade/change/changeParameters.ts';
import { CHANGE_KINDS, type ToldChange, tellChanges } from '../../src/grade/change/tellChanges.ts';
import { randomFrom } from '../../src/maths/random.ts';
import { bootstrapByFlight } from './bootstrapByFlight.ts';
import type { Study } from './Study.ts';
import { drawTwoYears, type Fate, type TrueDischarge } from './twoYears.ts';

type Told = ToldChange['change'] | 'in neither';

/** One discharge, and what was told of it. */
interface Case extends TrueDischarge {
  readonly told: Told;
  /** Whether the 95 % interval of the ratio holds the factor of its fate; null where no ratio was told. */
  readonly held: boolean | null;
}

const FATES: readonly Fate[] = [0.1, 0.2, 1 / 3, 0.5, 1, 2, 3, 5, 10, 'new', 'gone'];
const CLASSES = [
  { name: 'fewer than 20', least: 0, most: 20 },
  { name: '20 to 100', least: 20, most: 100 },
  { name: '100 or more', least: 100, most: Number.POSITIVE_INFINITY },
] as const;
/** Around what the comparison takes for granted (0.3): steadier, as taken, and more restless corona. */
const DAY_TO_DAY = [0.15, 0.3, 0.45] as const;

/** Which way it went: 1 stronger, -1 weaker, 0 neither was told. One that fell below what is found has gone, for who looks. */
const wayTold = (told: Told): number =>
  told === 'new' || told === 'grown' ? 1 : told === 'gone' || told === 'faded' ? -1 : 0;
const wayOf = (fate: Fate): number => (fate === 'new' ? 1 : fate === 'gone' ? -1 : Math.sign(Math.log(fate)));
const isChange = (told: Told): boolean => wayTold(told) !== 0;

function casesOf(seed: number, dayToDaySigma: number): Case[] {
  const { earlier, later, truth } = drawTwoYears(randomFrom(seed), dayToDaySigma);
  const told = tellChanges(earlier, later, CHANGE_PARAMETERS);
  return truth.flatMap((one): Case[] => {
    // A pair of two different discharges is a fault of its own: it is counted for both.
    const own = told.filter(({ earlierId, laterId }) => earlierId === one.id || laterId === one.id);
    if (own.length === 0) return [{ ...one, told: 'in neither', held: null }];
    return own.map(({ change, rate }) => ({
      ...one,
      told: change,
      held: rate === null || typeof one.fate === 'string' ? null : rate.lower <= one.fate && one.fate <= rate.upper,
    }));
  });
}

const share = <T>(of: readonly T[], where: (one: T) => boolean): number => of.filter(where).length / of.length;
const percent = (value: number): string => (Number.isFinite(value) ? `${(100 * value).toFixed(1)} %` : '–');

/** A share over all pairs of campaigns, with the interval of whole pairs drawn anew. */
function shareText(groups: readonly (readonly Case[])[], among: (one: Case) => boolean, where: (one: Case) => boolean) {
  const chosen = groups.map((group) => group.filter(among));
  const all = chosen.flat();
  if (all.length === 0) return '–';
  const [lower, upper] = bootstrapByFlight(chosen, (members) => share(members, where));
  return `${percent(share(all, where))} (${percent(lower)} to ${percent(upper)})`;
}

const fateName = (fate: Fate): string =>
  typeof fate === 'string' ? fate : fate === 1 ? 'unchanged' : `× ${Number(fate.toPrecision(2))}`;

export const study: Study = ({ seeds = 100, firstSeed = 1, progress }) => {
  const runs = DAY_TO_DAY.map((sigma) => ({
    sigma,
    pairs: Array.from({ length: seeds }, (_, i) => {
      if (i % 50 === 0) progress(`day to day ${sigma}: pair ${i} of ${seeds}`);
      return casesOf(firstSeed + i, sigma);
    }),
  }));
  const taken = runs[1].pairs;
  const falseAmongTold = (pairs: typeof taken): string =>
    shareText(
      pairs,
      ({ told }) => isChange(told),
      ({ told, fate }) => wayTold(told) !== wayOf(fate),
    );
  const falseOfUnchanged = (pairs: typeof taken): string =>
    shareText(
      pairs,
      ({ fate, told }) => fate === 1 && told !== 'in neither',
      ({ told }) => isChange(told),
    );
  const held = (pairs: typeof taken): string =>
    shareText(
      pairs,
      (one) => one.held !== null,
      (one) => one.held === true,
    );
  const all = taken.flat();
  const columns = [...CHANGE_KINDS, 'in neither'] as const;
  const powerOf = (fate: Fate, { least, most }: (typeof CLASSES)[number]): string =>
    shareText(
      taken,
      (one) => one.fate === fate && one.expectedEvents >= least && one.expectedEvents < most,
      ({ told }) => (fate === 1 ? told === 'unchanged' : wayTold(told) === wayOf(fate)),
    );
  return {
    title: 'Changes between campaigns',
    headline: `${seeds} pairs of campaigns with ${all.length} discharges: of those that did not change ${falseOfUnchanged(taken)} are told as changed; of all changes told ${falseAmongTold(taken)} are false (${100 * CHANGE_PARAMETERS.falseDiscoveryRate} % accepted).`,
    markdown: [
      `Two campaigns of one line, drawn event by event (\`scripts/studies/twoYears.ts\`, seeds ${firstSeed} to ${firstSeed + seeds - 1}): 40 discharges, two on each tower 1.2 m apart, half of them unchanged, the others each with a fate of the table; one or two passes at 32 to 62 m, light that flickers (relative variance 0.3 from a fifth of a second to the next), pulse heights as broad as a real tube's, one rig whose efficiency is off by 10 % and ages by 5 %, air off by 0.6 per km each year, ranges by 0.3 m, places by 0.08 m an axis, hardware that hangs 0.1 m elsewhere; 5 % of the components not seen in a year. A pass finds a discharge of 7 events. Brackets: 95 %, whole pairs of campaigns drawn anew. None of it comes from pictures: what detection and placing add is in the pages on these.`,
      '',
      '## False changes',
      '',
      `The comparison takes corona to differ by ${CHANGE_PARAMETERS.dayToDayRelativeSigma} (1 sigma of the logarithm) from day to day. Where it is more restless than that, changes are told too easily; where steadier, the interval is too wide.`,
      '',
      '| day to day, truth | unchanged, told as changed | false among the changes told | factor in the 95 % interval of the ratio |',
      '|---|---|---|---|',
      ...runs.map(
        ({ sigma, pairs }) => `| ${sigma} | ${falseOfUnchanged(pairs)} | ${falseAmongTold(pairs)} | ${held(pairs)} |`,
      ),
      '',
      '## What is told of what (day to day 0.3)',
      '',
      `| truth | ${columns.join(' | ')} | discharges |`,
      `|---|${columns.map(() => '---|').join('')}---|`,
      ...FATES.map((fate) => {
        const own = all.filter((one) => one.fate === fate);
        return `| ${fateName(fate)} | ${columns.map((told) => own.filter((one) => one.told === told).length).join(' | ')} | ${own.length} |`;
      }),
      '',
      'False is a change told where there was none, or the wrong way; a discharge that fell below what can be found is rightly told as gone, one that rose above it as new. "In neither": no campaign found it. "Not comparable" leaves it open, with a reason.',
      '',
      '## How surely a change is told right, by strength',
      '',
      'Share told to have gone the way it went (unchanged: told as unchanged); the rest is nearly all left open. Columns: mean events of the fainter year in its better pass.',
      '',
      `| truth | ${CLASSES.map(({ name }) => `${name} events`).join(' | ')} |`,
      '|---|---|---|---|',
      ...FATES.map((fate) => `| ${fateName(fate)} | ${CLASSES.map((one) => powerOf(fate, one)).join(' | ')} |`),
    ].join('\n'),
  };
};
