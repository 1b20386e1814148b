import { readFileSync } from 'node:fs';
import { Command, CommanderError } from 'commander';
import { EXIT } from './exitCodes.ts';
import { benchVerb } from './verbs/bench.ts';
import { checkVerb } from './verbs/check.ts';
import { compareVerb } from './verbs/compare.ts';
import { deskVerb } from './verbs/desk.ts';
import { exportVerb } from './verbs/export.ts';
import { injectVerb } from './verbs/inject.ts';
import { inspectVerb } from './verbs/inspect.ts';
import { inventVerb } from './verbs/invent.ts';
import { lineVerb } from './verbs/line.ts';
import { mountingVerb } from './verbs/mounting.ts';
import { planVerb } from './verbs/plan.ts';
import { recordVerb } from './verbs/record.ts';
import { reportVerb } from './verbs/report.ts';
import { responseVerb } from './verbs/response.ts';
import { reviewVerb } from './verbs/review.ts';
import { scoreVerb } from './verbs/score.ts';
import { trajectoryVerb } from './verbs/trajectory.ts';
import { whyVerb } from './verbs/why.ts';

const { version } = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8')) as {
  version: string;
};

const program = new Command('corposant')
  .description('Corona discharges on high-voltage lines: calibrate the camera pair, inspect flights, report findings.')
  .version(version, '--version', 'print the version')
  .helpOption('--help', 'print this help')
  .helpCommand(false)
  .showHelpAfterError('(add --help for what may follow)')
  .configureHelp({ helpWidth: 80 })
  .addHelpText(
    'after',
    `
Exit codes: 0 done, 1 done but the verdict is negative, 2 wrong words on the
command line, 3 bad input (the message says which file, field, and remedy),
4 a fault of Corposant, 130 interrupted (the same command goes on later).

Results are advice for qualified people. They defer to the line owner's rules,
local codes and licensed practice; keep approach distances.`,
  )
  .exitOverride();

for (const add of [
  benchVerb,
  mountingVerb,
  trajectoryVerb,
  lineVerb,
  responseVerb,
  recordVerb,
  checkVerb,
  inspectVerb,
  injectVerb,
  planVerb,
  reviewVerb,
  deskVerb,
  compareVerb,
  reportVerb,
  whyVerb,
  exportVerb,
  scoreVerb,
  inventVerb,
])
  add(program);

try {
  await program.parseAsync();
} catch (error) {
  if (!(error instanceof CommanderError)) throw error;
  process.exitCode = error.exitCode === 0 ? EXIT.done : EXIT.badUsage;
}
