import { type Command, InvalidArgumentError } from 'commander';
import { type ConvertedLine, convertLine } from '../../jobs/convert/convertLine.ts';
import { runVerb } from '../runVerb.ts';
import { table } from '../table.ts';
import { wrapText } from '../wrapText.ts';

export function lineVerb(program: Command): void {
  program
    .command('line')
    .description(
      'read a line from tables, GeoPackage, GeoJSON or a template, refine it from a laser scan, write line.json',
    )
    .argument('<source>', 'GeoPackage, folder of CSV tables, GeoJSON, template, or line.json')
    .option('--mapping <file>', 'what the tables mean (docs/formats.md): for GeoPackage and CSV')
    .option('--cloud <files...>', 'LAS or LAZ files to refine wires and strings from')
    .option('--cloud-system <code>', 'their projected system, e.g. EPSG:25833, where they do not say')
    .option(
      '--cloud-heights <above>',
      'what their heights stand above, where they do not say: ellipsoid or EGM96',
      above,
    )
    .option('--cloud-sigma <metres>', 'how well the cloud as a whole lies, 1 sigma', positive, 0.05)
    .option('--reach <metres>', 'how far a wire may be from where the line has it', positive, 2.5)
    .option('--out <file>', 'line.json to write')
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((source: string, options) =>
      runVerb(options, async () => {
        const result = await convertLine(source, {
          mappingFile: options.mapping ?? null,
          cloud: options.cloud
            ? {
                files: options.cloud,
                system: options.cloudSystem ?? null,
                heights: options.cloudHeights ?? null,
                sigmaM: options.cloudSigma,
                reachM: options.reach,
              }
            : null,
          outFile: options.out ?? null,
        });
        return { text: lineText(result), json: result };
      }),
    );
}

function above(text: string): 'ellipsoid' | 'EGM96' {
  if (text === 'ellipsoid' || text === 'EGM96') return text;
  throw new InvalidArgumentError('expected ellipsoid or EGM96');
}

function positive(text: string): number {
  const value = Number(text);
  if (!(value > 0) || !Number.isFinite(value)) throw new InvalidArgumentError('expected a number above 0');
  return value;
}

const MOST_LISTED = 12;

function lineText(found: ConvertedLine): string {
  const { cloud } = found;
  const listed = (rows: readonly string[]): string[] => [
    ...rows.slice(0, MOST_LISTED).flatMap((row) => wrapText(row, 2)),
    ...(rows.length > MOST_LISTED ? [`... and ${rows.length - MOST_LISTED} more (--json has all)`] : []),
  ];
  return [
    `${found.name}: ${found.structures} structures, ${found.components} components, ${found.conductors} conductors.`,
    ...(found.leftOut.length > 0
      ? [
          '',
          `Left out: ${found.leftOut.length} rows`,
          ...listed(found.leftOut.map((r) => `${r.table}, row ${r.row}: ${r.because}`)),
        ]
      : []),
    ...(cloud
      ? [
          '',
          `Cloud: ${cloud.pointsRead} points, ${cloud.pointsLeftOut} left out (noise, withheld). ${cloud.refined.length} refined, ${cloud.notRefined.length} not.`,
          ...(cloud.refined.length > 0
            ? [
                table(
                  ['refined', 'points', 'moved m', 'sigma m'],
                  cloud.refined
                    .slice(0, MOST_LISTED)
                    .map((r) => [r.id, String(r.points), r.movedM.toFixed(3), r.sigmaM.toFixed(3)]),
                ),
              ]
            : []),
          ...listed(cloud.notRefined.map((r) => `not refined: ${r.id}: ${r.because}`)),
        ]
      : []),
    ...(found.outFile === null ? [] : ['', `Written: ${found.outFile}`]),
  ].join('\n');
}
