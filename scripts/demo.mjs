// npm run demo: the main job on an invented campaign, each step the command that a user would type.
import { existsSync, rmSync } from 'node:fs';
import path from 'node:path';
import { build, fail, needNodePackages, root, run } from './prepare.mjs';

const usage = 'npm run demo -- [--full] [--two-years] [--seed N] [--out FOLDER]';
const options = { full: false, twoYears: false, seed: '1', out: path.join('out', 'demo') };
for (let args = process.argv.slice(2); args.length > 0; ) {
  const word = args.shift();
  if (word === '--full') options.full = true;
  else if (word === '--two-years') options.twoYears = true;
  else if (word === '--seed' && /^\d+$/.test(args[0] ?? '')) options.seed = args.shift();
  else if (word === '--out' && args[0]) options.out = args.shift();
  else fail(`'${word}' is not an option here. ${usage}`);
}

needNodePackages();
build();
const started = Date.now();
const out = options.out;
// Only what an earlier demo wrote is thrown away, never a folder of the user's.
if (existsSync(path.join(root, out, 'world', 'flight', 'truth.json')))
  rmSync(path.join(root, out), { recursive: true });
else if (existsSync(path.join(root, out))) rmSync(path.join(root, out, 'world'), { recursive: true, force: true });

const corposant = (...words) => {
  console.log(`\n$ corposant ${words.join(' ')}`);
  const status = run(process.execPath, ['bin/corposant.js', ...words]);
  if (status !== 0) fail(`The step ended with code ${status}.`);
};
const world = path.join(out, 'world');
const campaign = path.join(out, 'campaign.gpkg');
// Full: 34 GB of raw frames; colour at 2 a second keeps the rendering to the matter.
const size = options.full ? ['--size', 'full', '--colour-rate', '2'] : ['--size', 'compact'];
corposant('invent', world, '--seed', options.seed, ...size);
corposant('bench', path.join(world, 'bench'), '--rig', path.join(world, 'rig.json'), '--out', path.join(out, 'bench'));
corposant(
  ...['inspect', path.join(world, 'flight'), '--campaign', campaign, '--rig', path.join(world, 'rig.json')],
  ...['--line', path.join(world, 'line.json'), '--registration', path.join(out, 'bench', 'registration.json')],
);
corposant('report', campaign, '--out', path.join(out, 'report'));
corposant('score', campaign, path.join(world, 'flight', 'truth.json'));
const secondWorld = path.join(out, 'world-2');
const second = path.join(out, 'campaign-2.gpkg');
if (options.twoYears) {
  // The same rig and line a year on: its bench run of the first year still holds.
  corposant('invent', secondWorld, '--seed', options.seed, ...size, '--year', '2');
  corposant(
    ...['inspect', path.join(secondWorld, 'flight'), '--campaign', second, '--rig', path.join(secondWorld, 'rig.json')],
    ...['--line', path.join(secondWorld, 'line.json'), '--registration', path.join(out, 'bench', 'registration.json')],
  );
  corposant('compare', campaign, second);
  corposant('report', second, '--out', path.join(out, 'report-2'));
  corposant('score', second, path.join(secondWorld, 'flight', 'truth.json'));
}
console.log(`
The whole job took ${Math.round((Date.now() - started) / 1000)} s. Where to look:
  ${path.join(out, 'bench', 'certificate.html')}   how well the camera pair is calibrated
  ${path.join(out, 'report', 'report.pdf')}       what the line owner gets
  ${campaign}              the campaign itself: any GIS opens it`);
if (options.twoYears)
  console.log(`  ${path.join(out, 'report-2', 'report.pdf')}     the second year, with what became of each finding`);
