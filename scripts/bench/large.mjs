// node scripts/bench/large.mjs: a campaign as large as a long season in the report and in the desk; writes docs/large-campaign.md.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { cpus, loadavg, tmpdir } from 'node:os';
import path from 'node:path';
import { build, mustRun, needNodePackages, needPrograms, root } from '../prepare.mjs';
import { measureDesk } from './desk.mjs';
import { measureReports } from './reportOfMany.mjs';

needNodePackages();
needPrograms(['chromium']);
build();
const folder = mkdtempSync(path.join(tmpdir(), 'corposant-large-'));
try {
  const campaigns = [100, 500].map((findings) => ({ findings, file: path.join(folder, `campaign-${findings}.gpkg`) }));
  for (const { findings, file } of campaigns)
    mustRun(process.execPath, ['--import', 'tsx', 'scripts/largeCampaign.ts', file, String(findings), '50000']);
  const load = loadavg()[0].toFixed(1);
  const reports = await measureReports(campaigns, folder);
  const desk = await measureDesk(campaigns.at(-1).file);
  const day = new Date().toISOString().slice(0, 10);
  writeFileSync(
    path.join(root, 'docs', 'large-campaign.md'),
    `# A large campaign

500 findings with two pictures each, 50,000 sightings, 1,437 components on 48 km of line: \`scripts/largeCampaign.ts\`, all drawn by chance.
Made on ${day} by \`npm run bench:large\` on ${cpus().length} x ${cpus()[0]?.model ?? 'processor'}, Node ${process.versions.node}, load average ${load} before it began.

## Report and hand-over

PDF with all layers and tables, and the folder for the browser. Memory is the most that the process ever held, as Linux counts it.

${reports}

## The desk

Chromium, window 1280 x 720, against the real server on this machine. There is no graphics card: SwiftShader draws on the same processor that
runs browser and server, so that figures of the overlay are those of a machine without one, not of a field laptop.

${desk}
`,
  );
} finally {
  rmSync(folder, { recursive: true, force: true });
}
