// npm test: set-up, type check, lint, layer rules, all tests. Ends with one line "N passed, N failed".
import { readFileSync, rmSync } from 'node:fs';
import path from 'node:path';
import { build, needNodePackages, needPrograms, root, run } from './prepare.mjs';

needNodePackages();
// The tests ask these for a second opinion: GDAL reads our GeoPackage, Poppler our PDF, OpenCV our tables,
// and a real browser opens the desk.
needPrograms(['ogrinfo', 'pdftotext', 'python3', 'chromium'], { cv2: 'python3-opencv' });

const bin = (name) => path.join(root, 'node_modules', '.bin', name);
let failedSteps = 0;
const step = (title, command, args) => {
  console.log(`\n--- ${title}`);
  if (run(command, args) !== 0) failedSteps++;
};

step('types', bin('tsc'), ['--noEmit']);
step('types of the desk', bin('tsc'), ['-p', 'desk/tsconfig.json']);
step('lint and format', bin('biome'), ['check', '.']);
step('layers', bin('depcruise'), ['--config', '.dependency-cruiser.cjs', 'src', 'desk/src']);
build();
const results = path.join(root, 'out', 'test-results.json');
rmSync(results, { force: true });
console.log('\n--- tests');
const status = run(bin('vitest'), [
  'run',
  '--reporter=default',
  '--reporter=json',
  `--outputFile.json=${results}`,
  ...process.argv.slice(2),
]);
let passed = 0;
let failed = failedSteps;
try {
  const summary = JSON.parse(readFileSync(results, 'utf8'));
  passed = summary.numPassedTests;
  failed += summary.numFailedTests;
  // A file that could not even be loaded counts no test of its own.
  failed += summary.testResults.filter((f) => f.status === 'failed' && f.assertionResults.length === 0).length;
} catch (error) {
  console.error(`No test results: ${error.message}`);
  failed++;
}
if (status !== 0 && failed === 0) failed = 1;
console.log(`\n${passed} passed, ${failed} failed`);
process.exit(failed === 0 && passed > 0 ? 0 : 1);
