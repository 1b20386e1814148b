import type { Command } from 'commander';
import { reasonInEnglish } from '../../grade/reasonsInEnglish.ts';
import { type CompareOutcome, compareCampaigns } from '../../jobs/compare/compareCampaigns.ts';
import { runVerb } from '../runVerb.ts';
import { table } from '../table.ts';
import { wrapText } from '../wrapText.ts';

export function compareVerb(program: Command): void {
  program
    .command('compare')
    .description('tell what became of each finding since an earlier campaign, and grade anew with it')
    .argument('<earlier>', 'campaign file (GeoPackage) of the earlier year; only read')
    .argument('<later>', 'campaign file of this year; the changes are kept in it')
    .option('--rules <file>', 'priority rules; without it, those that the later campaign was inspected with')
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((earlier: string, later: string, options) =>
      runVerb(options, async () => {
        const outcome = await compareCampaigns(earlier, later, { rulesFile: options.rules ?? null });
        return { text: compareText(outcome), json: outcome };
      }),
    );
}

const ORDER = ['new', 'grown', 'unchanged', 'faded', 'gone', 'not comparable'] as const;

function compareText({ earlier, later, changes, remarks }: CompareOutcome): string {
  const ordered = [...changes].sort((a, b) => ORDER.indexOf(a.change) - ORDER.indexOf(b.change));
  const counts = ORDER.map((change) => `${changes.filter((one) => one.change === change).length} ${change}`);
  const lines = [`'${later}' against '${earlier}':`, `${counts.join(', ')}.`, ''];
  for (const one of ordered) {
    const grade =
      one.priority === null
        ? ''
        : one.priority === one.priorityBefore
          ? `stays '${one.priority}', rule '${one.rule}'`
          : `was '${one.priorityBefore}', is '${one.priority}' by rule '${one.rule}'`;
    lines.push(
      ...wrapText(
        `${one.change.toUpperCase()}  ${one.laterId ?? `${one.earlierId} (earlier)`} on ${one.componentId ?? 'none of the components'}`,
        2,
      ),
      ...wrapText(`  ${reasonInEnglish(one.because)}`, 2),
      ...(grade === '' ? [] : wrapText(`  ${grade}`, 2)),
    );
  }
  if (changes.length === 0) lines.push('Neither campaign has a finding.');
  for (const remark of remarks) lines.push('', ...wrapText(remark));
  lines.push(
    '',
    table(
      ['change', 'number'],
      ORDER.map((change) => [change, String(changes.filter((one) => one.change === change).length)]),
    ),
  );
  return lines.join('\n');
}
