import { Argument, type Command, InvalidArgumentError } from 'commander';
import { openGeoPackageCampaign } from '../../campaign/openGeoPackageCampaign.ts';
import type { ReviewableCampaign } from '../../campaign/ReviewableCampaign.ts';
import type { ReviewCommand } from '../../campaign/ReviewCommand.ts';
import { standingActs } from '../../campaign/reviewLog.ts';
import { reviewQueue } from '../../campaign/reviewQueue.ts';
import { InputError } from '../../input/InputError.ts';
import { runVerb, type VerbResult } from '../runVerb.ts';
import { table } from '../table.ts';
import { wrapText } from '../wrapText.ts';

const ACTS = [
  'queue',
  'log',
  'confirm',
  'reject',
  'reopen',
  'comment',
  'component',
  'merge',
  'split',
  'undo',
  'redo',
] as const;
type Act = (typeof ACTS)[number];

interface Options {
  readonly by?: string;
  readonly comment?: string;
  readonly why?: string;
  readonly to?: string;
  readonly sightings?: string[];
  readonly seen?: string[];
  readonly act?: number;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

export function reviewVerb(program: Command): void {
  program
    .command('review')
    .description('decide on findings, correct their component, merge and split them; every act is kept')
    .argument('<campaign>', 'campaign file (GeoPackage)')
    .addArgument(new Argument('[act]', 'what to do').choices(ACTS).default('queue'))
    .argument('[findings...]', 'findings it is about; merge: the first takes in the others')
    .option('--by <name>', 'who decides; needed to change anything')
    .option('--comment <text>', 'comment that stands with the finding')
    .option('--why <text>', 'reason, kept in the log')
    .option('--to <component>', "component: its id, or 'none'")
    .option('--sightings <ids...>', 'split: those of another discharge')
    .option(
      '--seen <revisions...>',
      'refuse where a finding changed since it had this revision (as --json prints them)',
    )
    .option('--act <number>', "undo: another act than one's last", wholeNumber)
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((campaign: string, act: Act, findings: string[], options: Options) =>
      runVerb(options, async () => {
        const store = openGeoPackageCampaign(campaign, { create: false });
        try {
          if (act === 'queue') return queueOf(store);
          if (act === 'log') return logOf(store, findings);
          return done(store, campaign, commandOf(act, findings, options));
        } finally {
          store.close();
        }
      }),
    );
}

function wholeNumber(text: string): number {
  const value = Number(text);
  if (!(Number.isInteger(value) && value > 0))
    throw new InvalidArgumentError('expected the number of an act in the log');
  return value;
}

function commandOf(act: Exclude<Act, 'queue' | 'log'>, ids: readonly string[], options: Options): ReviewCommand {
  const { seen = [], comment = '' } = options;
  if (options.by === undefined) throw missing('by', 'the name of whoever decides');
  if (ids.length === 0 && act !== 'undo' && act !== 'redo') throw missing('findings', 'the findings it is about');
  if (seen.length > 0 && seen.length !== ids.length)
    throw missing('seen', `${ids.length} revisions, one a finding`, `${seen.length}`);
  const findings = ids.map((id, i) => ({ id, revision: seen[i] ?? null }));
  const said = { by: options.by, why: options.why ?? '', atUtc: new Date().toISOString() };
  switch (act) {
    case 'confirm':
      return { ...said, action: 'decide', decision: 'confirmed', comment, findings };
    case 'reject':
      return { ...said, action: 'decide', decision: 'rejected', comment, findings };
    case 'reopen':
      return { ...said, action: 'decide', decision: 'open', comment, findings };
    case 'comment':
      if (comment === '') throw missing('comment', 'the comment');
      return { ...said, action: 'comment', comment, findings };
    case 'component':
      if (options.to === undefined) throw missing('to', "the component, or 'none'");
      return {
        ...said,
        action: 'assign component',
        componentId: options.to === 'none' ? null : options.to,
        findings,
      };
    case 'merge':
      if (findings.length < 2) throw missing('findings', 'two findings or more');
      return { ...said, action: 'merge', into: findings[0], findings: findings.slice(1) };
    case 'split':
      if (options.sightings === undefined) throw missing('sightings', 'the sightings of the other discharge');
      if (findings.length !== 1) throw missing('findings', 'one finding', String(findings.length));
      return { ...said, action: 'split', from: findings[0], sightingIds: options.sightings };
    case 'undo':
      return { ...said, action: 'undo', act: options.act ?? null };
    case 'redo':
      return { ...said, action: 'redo' };
  }
}

const missing = (field: string, expected: string, found = 'nothing'): InputError =>
  new InputError({
    file: 'command line',
    field,
    found,
    expected,
    todo: 'See corposant review --help.',
  });

function done(store: ReviewableCampaign, file: string, command: ReviewCommand): VerbResult {
  const outcome = store.act(command);
  if (outcome.kind === 'conflict')
    return {
      text: wrapText(
        `Nothing was done: ${outcome.findings.join(', ')} changed since. Look at it again, then decide.`,
      ).join('\n'),
      json: outcome,
      verdictNegative: true,
    };
  if (outcome.kind === 'refused')
    throw new InputError({
      file,
      field: command.action,
      found: outcome.detail,
      expected: `something that can be done (${outcome.because})`,
      todo: 'Look at the log and the findings: corposant review CAMPAIGN log.',
    });
  const revisions = store.findingRevisions();
  const changed = outcome.changed.map((id) => ({ id, revision: revisions.get(id) ?? null }));
  return {
    text: `Act ${outcome.act}: ${outcome.changed.join(', ')}. Taken back with: corposant review ${file} undo --act ${outcome.act} --by NAME`,
    json: { ...outcome, changed },
  };
}

function queueOf(store: ReviewableCampaign): VerbResult {
  const findings = store.findings();
  const by = new Map(findings.map((finding) => [finding.id, finding]));
  const revisions = store.findingRevisions();
  const queue = reviewQueue(findings, new Map(store.discharges().map((one) => [one.id, one])));
  const rows = queue.flatMap(({ id, reasons }, i) => {
    const { grade, componentId, componentProbability } = by.get(id)!;
    const why = reasons.filter((reason) => reason !== 'not decided');
    return [
      [String(i + 1), id, grade.priority, componentId ?? 'none of those known', componentProbability.toFixed(2)],
      ...(why.length > 0 ? [['', `  ${why.join(', ')}`, '', '', '']] : []),
    ];
  });
  return {
    text:
      queue.length === 0
        ? `All ${findings.length} findings are decided.`
        : `${queue.length} of ${findings.length} findings need a decision, the most valuable look first.\n\n${queueTable(rows)}`,
    json: queue.map((one) => ({ ...one, revision: revisions.get(one.id) ?? null })),
  };
}

/** Reasons stand under their finding, across the columns. */
function queueTable(rows: readonly (readonly string[])[]): string {
  const plain = table(
    ['', 'finding', 'priority', 'component', 'p'],
    rows.filter(([number]) => number !== ''),
  ).split('\n');
  const out = plain.slice(0, 2);
  let next = 2;
  for (const row of rows) out.push(row[0] === '' ? `    ${row[1]}` : plain[next++]);
  return out.join('\n');
}

function logOf(store: ReviewableCampaign, ids: readonly string[]): VerbResult {
  const log = store.acts();
  const standing = standingActs(log);
  const lines = log.filter(({ findingId, others }) =>
    ids.length === 0 ? true : [findingId, ...others.map(({ id }) => id)].some((id) => ids.includes(id)),
  );
  return {
    text:
      lines.length === 0
        ? 'Nothing was said yet.'
        : lines
            .flatMap((line) => {
              const back =
                line.what === 'undo' || line.what === 'redo' || standing.has(line.act) ? '' : ' (taken back)';
              const value = line.value === '' ? '' : ` ${line.value}`;
              const why = line.why === '' ? '' : `; why: ${line.why}`;
              return wrapText(
                `${line.act}  ${line.atUtc}  ${line.who}: ${line.findingId} ${line.what}${value}${why}${back}`,
                4,
              );
            })
            .join('\n'),
    json: lines,
  };
}
