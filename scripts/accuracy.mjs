// npm run accuracy: the whole job on many invented worlds, scored against their truth; writes docs/accuracy.md.
// Each world goes through the command as a user would run it: invent, bench, inspect, score.
import { spawn } from 'node:child_process';
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import path from 'node:path';
import { build, fail, needNodePackages, root } from './prepare.mjs';

const usage = 'npm run accuracy -- [--seeds N] [--first-seed N] [--keep] [--out FILE]';
const options = { seeds: 20, first: 101, keep: false, out: path.join('docs', 'accuracy.md') };
for (let args = process.argv.slice(2); args.length > 0; ) {
  const word = args.shift();
  if (word === '--seeds' && /^[1-9]\d*$/.test(args[0] ?? '')) options.seeds = Number(args.shift());
  else if (word === '--first-seed' && /^\d+$/.test(args[0] ?? '')) options.first = Number(args.shift());
  else if (word === '--keep') options.keep = true;
  else if (word === '--out' && args[0]) options.out = args.shift();
  else fail(`'${word}' is not an option here. ${usage}`);
}

needNodePackages();
build();
const { accuracyOfWorlds } = await import(new URL('../dist/jobs/score/accuracyOfWorlds.js', import.meta.url).href);
const work = path.join(tmpdir(), `corposant-accuracy-${process.pid}`);

/** Runs the command; resolves to what it prints as JSON. A negative verdict (code 1) is a result like any other. */
function corposant(words) {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [path.join(root, 'bin', 'corposant.js'), ...words, '--json', '--quiet']);
    let out = '';
    let err = '';
    child.stdout.on('data', (bytes) => {
      out += bytes;
    });
    child.stderr.on('data', (bytes) => {
      err += bytes;
    });
    child.on('close', (code) => {
      if (code === 0 || code === 1) resolve(JSON.parse(out));
      else reject(new Error(`corposant ${words.join(' ')} ended with code ${code}\n${err}`));
    });
  });
}

async function oneWorld(seed) {
  const folder = path.join(work, String(seed));
  const world = path.join(folder, 'world');
  mkdirSync(folder, { recursive: true });
  await corposant(['invent', world, '--seed', String(seed), '--colour-rate', '0.5', '--workers', '0']);
  const bench = await corposant([
    'bench',
    path.join(world, 'bench'),
    '--rig',
    path.join(world, 'rig.json'),
    '--out',
    path.join(folder, 'bench'),
  ]);
  const campaign = path.join(folder, 'campaign.gpkg');
  const inspection = await corposant([
    ...['inspect', path.join(world, 'flight'), '--campaign', campaign, '--rig', path.join(world, 'rig.json')],
    ...['--line', path.join(world, 'line.json'), '--registration', path.join(folder, 'bench', 'registration.json')],
  ]);
  const score = await corposant(['score', campaign, path.join(world, 'flight', 'truth.json')]);
  const registration = JSON.parse(readFileSync(path.join(folder, 'bench', 'registration.json'), 'utf8'));
  const truth = JSON.parse(readFileSync(path.join(world, 'bench', 'truth.json'), 'utf8'));
  if (!options.keep) rmSync(folder, { recursive: true });
  return { seed, bench, inspection, score, registration, rigTruth: truth.rig };
}

const seeds = Array.from({ length: options.seeds }, (_, i) => options.first + i);
const results = [];
let next = 0;
const started = Date.now();
await Promise.all(
  Array.from({ length: Math.max(1, Math.min(availableParallelism(), seeds.length)) }, async () => {
    while (next < seeds.length) {
      const seed = seeds[next++];
      results.push(await oneWorld(seed));
      console.error(
        `seed ${seed}: ${results.length} of ${seeds.length} worlds, ${Math.round((Date.now() - started) / 1000)} s`,
      );
    }
  }),
);
results.sort((a, b) => a.seed - b.seed);
const command = `npm run accuracy -- --seeds ${options.seeds} --first-seed ${options.first}`;
const page = accuracyOfWorlds(results, { command, date: new Date().toISOString().slice(0, 10) });
writeFileSync(path.join(root, options.out), page);
console.log(page);
if (options.keep) console.error(`The worlds are kept in ${work}`);
else rmSync(work, { recursive: true, force: true });
