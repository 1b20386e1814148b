/** Runs the study NAME.ts of this folder and prints its page as JSON; started by scripts/accuracy.mjs. */
import { parseArgs } from 'node:util';
import type { Study } from './Study.ts';

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: { seeds: { type: 'string' }, 'first-seed': { type: 'string' } },
});
const { study } = (await import(`./${positionals[0]}.ts`)) as { study: Study };
const page = await study({
  seeds: values.seeds === undefined ? undefined : Number(values.seeds),
  firstSeed: values['first-seed'] === undefined ? undefined : Number(values['first-seed']),
  progress: (text) => console.error(text),
});
process.stdout.write(JSON.stringify(page));
