import { type Command, Option } from 'commander';
import { writeReport } from '../../jobs/report/writeReport.ts';
import { runVerb } from '../runVerb.ts';

export function reportVerb(program: Command): void {
  program
    .command('report')
    .description('write the report for the line owner: PDF, map layers, tables')
    .argument('<campaign>', 'campaign file (GeoPackage)')
    .requiredOption('--out <folder>', 'folder to write to')
    .addOption(new Option('--language <language>', 'of the PDF').choices(['en', 'de']).default('en'))
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((campaign: string, options) =>
      runVerb(options, async (watch) => {
        const written = await writeReport(campaign, options.out, { language: options.language, watch });
        const others = Object.entries(written).filter(([key]) => key.endsWith('File') && key !== 'pdfFile');
        const files = [...written.pdfFiles, ...others.map(([, file]) => file)];
        return {
          text: [
            `Report of ${written.findings} findings on ${written.pages} pages:`,
            ...files.map((file) => `  ${file}`),
          ].join('\n'),
          json: written,
        };
      }),
    );
}
