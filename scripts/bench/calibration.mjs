// Calibration: one lens on OpenCV's own sample corners, by turns with OpenCV; and the whole ladder on 5,000 correspondences.
import { readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { tsImport } from 'tsx/esm/api';
import { root } from '../prepare.mjs';

/** Both ways of OpenCV to solve its normal equations: the default, and the faster one. */
export async function lensRows({ dist, compare, native, timed, median, folder }) {
  const corners = JSON.parse(
    readFileSync(path.join(root, 'tests', 'fixtures', 'opencv-chessboard', 'corners.json'), 'utf8'),
  );
  const { calibrateLens } = await dist('rig/calibrateLens.js');
  const pairsOf = (flat) => Array.from({ length: flat.length / 2 }, (_, i) => [flat[2 * i], flat[2 * i + 1]]);
  const views = corners.views.map((view) => ({ name: view.name, px: pairsOf(view.left) }));
  const squareM = corners.squareMm / 1000;
  const board = [];
  for (let r = 0; r < corners.rows; r++)
    for (let c = 0; c < corners.columns; c++) board.push([c * squareM, r * squareM, 0]);
  const file = path.join(folder, 'board.json');
  writeFileSync(
    file,
    JSON.stringify({ rows: corners.rows, columns: corners.columns, squareM, views: views.map((v) => v.px) }),
  );
  const size = { widthPx: corners.widthPx, heightPx: corners.heightPx };
  const ours = () =>
    timed(20, () => {
      for (let i = 0; i < 20; i++) calibrateLens(board, views, size);
    });
  const what = `calibration of a lens, ${views.length} views of ${board.length} corners, against OpenCV`;
  const rows = [];
  for (const way of ['LU', 'SVD'])
    rows.push(
      await compare(`${what} (${way}${way === 'SVD' ? ', its default' : ', its faster way'})`, 'ms', ours, async () =>
        median(await native('calibrate', { file, way, count: 20 })),
      ),
    );
  return rows;
}

/** Processor seconds of an adjustment of both cameras and of the ladder with cross-validation, from marks without pictures. */
export async function ladderTime({ dist, processorMs, median }) {
  const { benchRun, RIG, trueRig } = await tsImport('../../src/rig/bench.fixture.ts', import.meta.url);
  const { fitRig } = await dist('rig/fitRig.js');
  const { calibrateRig } = await dist('rig/calibrateRig.js');
  const run = benchRun(5, trueRig(5), [8, 14, 24, 40, 60], 0.05, 0.05, 206);
  const rounds = [];
  for (let round = 0; round < 3; round++) {
    const begin = processorMs();
    const fit = fitRig(RIG, run);
    const fitted = processorMs();
    const calibrated = calibrateRig(RIG, run, fit);
    if (calibrated.kind !== 'calibrated') throw new Error(`the ladder's run was refused: ${calibrated.because}`);
    rounds.push({ fitMs: fitted - begin, ladderMs: processorMs() - fitted, of: calibrated });
  }
  return {
    correspondences: rounds[0].of.correspondences.length,
    frames: rounds[0].of.framesUsed,
    sweeps: run.sweeps.length,
    fitS: median(rounds.map((r) => r.fitMs)) / 1000,
    ladderS: median(rounds.map((r) => r.ladderMs)) / 1000,
  };
}
