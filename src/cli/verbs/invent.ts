import { availableParallelism } from 'node:os';
import { type Command, InvalidArgumentError, Option } from 'commander';
import { inventWorldFiles } from '../../jobs/invent/inventWorldFiles.ts';
import { runVerb } from '../runVerb.ts';
import { wholeNumber } from '../wholeNumber.ts';

export function inventVerb(program: Command): void {
  program
    .command('invent')
    .description('render an invented line, bench run and flight, with the truth beside them, to try things on')
    .argument('<folder>', 'folder to write to')
    .option('--seed <number>', 'everything in the world follows from it', wholeNumber, 1)
    .addOption(
      new Option('--size <size>', 'compact: 90 s of flight; full: minutes, large sensors')
        .choices(['compact', 'full'])
        .default('compact'),
    )
    .option('--colour-rate <hertz>', 'colour frames a second in the flight', positive)
    .option('--series', 'also a gain series of the ultraviolet camera (260 MB in the compact size)')
    .option('--uneven', 'an ultraviolet camera darker towards the rim of its picture and on one side')
    .addOption(
      new Option('--board <kind>', "what the bench's target shows beside its lamps")
        .choices(['discs', 'rings', 'chessboard', 'coded board'])
        .default('discs'),
    )
    .addOption(new Option('--only <part>', 'render this part alone').choices(['bench', 'flight']))
    .addOption(
      new Option('--year <number>', '2: the same line and rig a year on, with discharges new, gone, grown, faded')
        .choices(['1', '2'])
        .default('1'),
    )
    .option('--workers <number>', 'threads that render', wholeNumber, availableParallelism())
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((folder: string, options) =>
      runVerb(options, async (watch) => {
        const result = await inventWorldFiles(
          folder,
          {
            seed: options.seed,
            size: options.size,
            colourRateHz: options.colourRate,
            series: options.series,
            uneven: options.uneven,
            board: options.board,
            only: options.only,
            workers: options.workers,
            year: options.year === '2' ? 2 : 1,
          },
          watch,
        );
        return {
          text: `Invented world of seed ${result.seed} in ${folder}:\n${result.files.map((file) => `  ${file}`).join('\n')}`,
          json: result,
        };
      }),
    );
}

function positive(text: string): number {
  const value = Number(text);
  if (!(value > 0 && value <= 1000)) throw new InvalidArgumentError('expected a number above 0, at most 1000');
  return value;
}
