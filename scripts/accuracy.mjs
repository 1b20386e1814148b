// npm run accuracy [-- NAME]: measures how right it all is, and writes docs/accuracy/NAME.md and the index docs/accuracy.md.
// Without a name, whole worlds: each goes through the command as a user would run it (invent, bench, inspect, score).
// With one, the study scripts/studies/NAME.ts.
import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import path from 'node:path';
import { build, fail, needNodePackages, root } from './prepare.mjs';

const usage = 'npm run accuracy -- [NAME] [--seeds N] [--first-seed N] [--keep]';
const options = { study: 'worlds', seeds: undefined, first: undefined, keep: false };
for (let args = process.argv.slice(2); args.length > 0; ) {
  const word = args.shift();
  if (word === '--seeds' && /^[1-9]\d*$/.test(args[0] ?? '')) options.seeds = Number(args.shift());
  else if (word === '--first-seed' && /^\d+$/.test(args[0] ?? '')) options.first = Number(args.shift());
  else if (word === '--keep') options.keep = true;
  else if (existsSync(path.join(root, 'scripts', 'studies', `${word}.ts`)) && /^[a-z-]+$/.test(word))
    options.study = word;
  else fail(`'${word}' is neither an option nor a study here. ${usage}`);
}

needNodePackages();
// Studies run from the source, but for whole worlds and the recorder, which go through the command.
if (['worlds', 'recorder'].includes(options.study)) build();
const pages = path.join(root, 'docs', 'accuracy');
const command = ['npm run accuracy --', options.study === 'worlds' ? '' : options.study]
  .concat(options.seeds === undefined ? [] : [`--seeds ${options.seeds}`])
  .concat(options.first === undefined ? [] : [`--first-seed ${options.first}`])
  .filter((word) => word !== '')
  .join(' ');
const inPieces = process.env.CORPOSANT_STUDY_PIECES === undefined ? '' : ', in pieces';
const made = `Made on ${new Date().toISOString().slice(0, 10)} by \`${command.replace(/ --$/, '')}\`${inPieces}.`;
const work = path.join(tmpdir(), `corposant-accuracy-${process.pid}`);

function runStudy() {
  const words = ['--import', 'tsx', path.join('scripts', 'studies', 'run.ts'), options.study];
  if (options.seeds !== undefined) words.push('--seeds', String(options.seeds));
  if (options.first !== undefined) words.push('--first-seed', String(options.first));
  const child = spawnSync(process.execPath, words, {
    cwd: root,
    stdio: ['ignore', 'pipe', 'inherit'],
    maxBuffer: 1 << 28,
  });
  if (child.status !== 0) fail(`The study ${options.study} ended with code ${child.status}.`);
  return JSON.parse(child.stdout.toString());
}

/** The index: one row for each page of docs/accuracy/, with the headline it begins with. */
function writeIndex() {
  const rows = readdirSync(pages)
    .filter((file) => file.endsWith('.md'))
    .sort()
    .map((file) => {
      const [title, , headline] = readFileSync(path.join(pages, file), 'utf8').split('\n');
      return `| [${title.replace(/^# /, '')}](accuracy/${file}) | ${headline} |`;
    });
  const index = [
    '# Accuracy as measured',
    '',
    'Every figure was measured on data that no fit has seen, against a truth that no measuring code can read. Each page says when it was',
    'made, by which command, and on which seeds; another `--first-seed` repeats it on draws that nobody has looked at. What invented data',
    'cannot show: the photon rate of a real discharge in the band, the pulse heights of a real tube, and a real mounting.',
    '',
    '| what | headline |',
    '|---|---|',
    ...rows,
    '',
  ];
  writeFileSync(path.join(root, 'docs', 'accuracy.md'), index.join('\n'));
}

function writePage({ title, headline, markdown }) {
  mkdirSync(pages, { recursive: true });
  const page = `# ${title}\n\n${headline}\n\n${made}\n\n${markdown.trim()}\n`;
  writeFileSync(path.join(pages, `${options.study}.md`), page);
  writeIndex();
  console.log(page);
}

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

async function studyWorlds() {
  const { accuracyOfWorlds } = await import(new URL('../dist/jobs/score/accuracyOfWorlds.js', import.meta.url).href);
  const seeds = Array.from({ length: options.seeds ?? 20 }, (_, i) => (options.first ?? 101) + i);
  const results = [];
  let next = 0;
  const started = Date.now();
  const worker = async () => {
    while (next < seeds.length) {
      const seed = seeds[next++];
      results.push(await oneWorld(seed));
      const seconds = Math.round((Date.now() - started) / 1000);
      console.error(`seed ${seed}: ${results.length} of ${seeds.length} worlds, ${seconds} s`);
    }
  };
  await Promise.all(Array.from({ length: Math.max(1, Math.min(availableParallelism(), seeds.length)) }, worker));
  results.sort((a, b) => a.seed - b.seed);
  if (options.keep) console.error(`The worlds are kept in ${work}`);
  else rmSync(work, { recursive: true, force: true });
  return accuracyOfWorlds(results);
}

writePage(options.study === 'worlds' ? await studyWorlds() : runStudy());
