import type { Command } from 'commander';
import { exportEvidence } from '../../jobs/export/exportEvidence.ts';
import { runVerb } from '../runVerb.ts';

export function exportVerb(program: Command): void {
  program
    .command('export')
    .description('hand over the findings with their pictures, as a page that any browser opens')
    .argument('<campaign>', 'campaign file (GeoPackage)')
    .requiredOption('--evidence <folder>', 'folder to write, or a file that ends in .zip')
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((campaign: string, options) =>
      runVerb(options, async (watch) => {
        const written = await exportEvidence(campaign, options.evidence, watch);
        return {
          text: `${written.findings} findings with ${written.pictures} pictures: open ${written.file}`,
          json: written,
        };
      }),
    );
}
