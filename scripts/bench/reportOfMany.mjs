// The report of a large campaign: seconds, and the most memory that it held, as the kernel counted it (VmHWM, Linux alone).
import { spawn } from 'node:child_process';
import { readdirSync, readFileSync, statSync } from 'node:fs';
import path from 'node:path';
import { root } from '../prepare.mjs';

/** Runs the command and looks at its peak four times a second; it only ever rises. */
async function watched(words) {
  const began = performance.now();
  const child = spawn(process.execPath, [path.join(root, 'bin', 'corposant.js'), ...words], { stdio: 'ignore' });
  let peakMb = 0;
  const look = setInterval(() => {
    try {
      const found = /VmHWM:\s+(\d+)/.exec(readFileSync(`/proc/${child.pid}/status`, 'utf8'));
      if (found) peakMb = Number(found[1]) / 1024;
    } catch {
      // It has ended between two looks.
    }
  }, 250);
  const code = await new Promise((resolve) => child.on('exit', resolve));
  clearInterval(look);
  if (code !== 0) throw new Error(`corposant ${words[0]} ended with ${code}`);
  return { seconds: (performance.now() - began) / 1000, peakMb };
}

export async function measureReports(campaigns, folder) {
  const rows = [];
  for (const { findings, file } of campaigns) {
    for (const [what, words] of [
      ['report', ['report', file, '--out', path.join(folder, `report-${findings}`), '--quiet']],
      ['hand-over', ['export', file, '--evidence', path.join(folder, `hand-over-${findings}`), '--quiet']],
    ]) {
      const { seconds, peakMb } = await watched(words);
      const out = words[3];
      const sizeMb =
        readdirSync(out, { recursive: true, withFileTypes: true })
          .filter((entry) => entry.isFile())
          .reduce((sum, entry) => sum + statSync(path.join(entry.parentPath, entry.name)).size, 0) / 1e6;
      rows.push(
        `| ${what} of ${findings} findings | ${seconds.toFixed(0)} s | ${peakMb.toFixed(0)} MB | ${sizeMb.toFixed(0)} MB |`,
      );
    }
  }
  return ['| what | time | most memory | written |', '|---|---|---|---|', ...rows].join('\n');
}
