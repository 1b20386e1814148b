// Brings a fresh clone to the point where it can build and run: npm packages by the lock file and, where asked for,
// Debian packages. Only Node's own modules here, as nothing else is there yet.
import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';

export const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '..');

/** What Debian calls the programs that the build, the tests and the benchmarks run. */
const DEBIAN_PACKAGES = {
  python3: 'python3',
  make: 'make',
  'g++': 'g++',
  ogrinfo: 'gdal-bin',
  pdftotext: 'poppler-utils',
  cct: 'proj-bin',
  chromium: 'chromium',
};

export function run(command, args, options = {}) {
  const result = spawnSync(command, args, { cwd: root, stdio: 'inherit', ...options });
  if (result.error) fail(`${command} could not be started: ${result.error.message}`);
  return result.status ?? 1;
}

export function mustRun(command, args, options = {}) {
  const status = run(command, args, options);
  if (status !== 0) process.exit(status);
}

export function fail(message) {
  console.error(`\n${message}`);
  process.exit(1);
}

const isThere = (program) => spawnSync('sh', ['-c', `command -v "${program}"`]).status === 0;
const pythonHas = (module) => spawnSync('/usr/bin/python3', ['-c', `import ${module}`]).status === 0;

/** Installs what is missing of the named programs (and Debian Python modules), or says what to install by hand. */
export function needPrograms(programs, pythonModules = {}) {
  const packages = programs.filter((p) => !isThere(p)).map((p) => DEBIAN_PACKAGES[p] ?? p);
  for (const [module, debian] of Object.entries(pythonModules)) if (!pythonHas(module)) packages.push(debian);
  if (packages.length === 0) return;
  const byHand = `Please install these packages and run the command again: ${packages.join(' ')}`;
  if (!isThere('apt-get')) fail(`This system has no apt-get. ${byHand}`);
  const asRoot = process.getuid?.() === 0 ? [] : isThere('sudo') ? ['sudo', '-n'] : null;
  if (!asRoot) fail(`Installing needs root. ${byHand}`);
  console.log(`Installing Debian packages: ${packages.join(' ')}`);
  const apt = (...args) => {
    const [command, ...rest] = [...asRoot, 'apt-get', ...args];
    return spawnSync(command, rest, {
      stdio: ['ignore', 'ignore', 'inherit'],
      env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' },
    }).status;
  };
  apt('update', '-q');
  if (apt('install', '-y', '-q', '--no-install-recommends', ...packages) !== 0) fail(`apt-get failed. ${byHand}`);
}

/** npm packages exactly as locked; again only when the lock file has changed. */
export function needNodePackages() {
  const [major, minor] = process.versions.node.split('.').map(Number);
  if (major < 20 || (major === 20 && minor < 19))
    fail(`Node ${process.versions.node} is too old: 20.19 or newer is needed.`);
  const lock = createHash('sha256')
    .update(readFileSync(path.join(root, 'package-lock.json')))
    .digest('hex');
  const mark = path.join(root, 'node_modules', '.corposant-lock');
  if (existsSync(mark) && readFileSync(mark, 'utf8') === lock) return;
  needPrograms(['python3', 'make', 'g++']); // better-sqlite3 compiles where no prebuilt binary is to be had
  console.log('Installing npm packages by the lock file');
  mustRun('npm', ['ci', '--no-audit', '--no-fund', '--loglevel=error']);
  writeFileSync(mark, lock);
}

export function build() {
  mustRun(process.execPath, [path.join('node_modules', 'typescript', 'bin', 'tsc'), '-p', 'tsconfig.build.json']);
  // Into dist/desk, where the server looks for it.
  mustRun(process.execPath, [
    path.join('node_modules', 'vite', 'bin', 'vite.js'),
    'build',
    'desk',
    '--logLevel',
    'warn',
  ]);
}
