import { join } from 'node:path';
import { type Command, InvalidArgumentError } from 'commander';
import { InputError } from '../../input/InputError.ts';
import { parseWith } from '../../input/parseWith.ts';
import { type ConvertedTrajectory, convertTrajectory } from '../../jobs/convert/convertTrajectory.ts';
import { flightDescription } from '../../recording/FlightDescription.ts';
import { readJsonFile } from '../../recording/jsonFile.ts';
import type { Epoch, TimeScale } from '../../time/Epoch.ts';
import { runVerb } from '../runVerb.ts';
import { table } from '../table.ts';
import { wrapText } from '../wrapText.ts';

export function trajectoryVerb(program: Command): void {
  program
    .command('trajectory')
    .description('read a trajectory of another maker by its mapping, say what is odd, write trajectory.csv')
    .argument('<file>', 'text table, NMEA 0183 log, MCAP recording, or a trajectory.csv to look at')
    .option('--mapping <file>', 'what its columns mean (docs/formats.md); not for a trajectory.csv')
    .option('--flight <folder>', 'flight whose epoch the stamps are to count from')
    .option('--epoch <utc>', 'that epoch, e.g. 2026-05-12T06:30:00Z')
    .option('--epoch-scale <scale>', 'UTC, TAI or GPS', scale, 'UTC')
    .option('--line <file>', 'line to set it against')
    .option('--out <file>', 'trajectory.csv to write')
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((file: string, options) =>
      runVerb(options, async () => {
        const result = await convertTrajectory(file, {
          mappingFile: options.mapping ?? null,
          epoch: await epochOf(options),
          outFile: options.out ?? null,
          lineFile: options.line ?? null,
        });
        return {
          text: trajectoryText(result),
          json: result,
          verdictNegative: result.findings.some((f) => f.weight === 'fault'),
        };
      }),
    );
}

function scale(text: string): TimeScale {
  if (text === 'UTC' || text === 'TAI' || text === 'GPS') return text;
  throw new InvalidArgumentError('expected UTC, TAI or GPS');
}

async function epochOf(options: { flight?: string; epoch?: string; epochScale: TimeScale }): Promise<Epoch> {
  if ((options.flight === undefined) === (options.epoch === undefined))
    throw new InputError({
      file: 'command line',
      field: '--flight, --epoch',
      found: options.flight === undefined ? 'neither' : 'both',
      expected: 'the flight that the trajectory belongs to, or its epoch',
      todo: 'Give one of the two.',
    });
  if (options.epoch !== undefined) return { utc: options.epoch, scale: options.epochScale };
  const file = join(options.flight as string, 'flight.json');
  return parseWith(flightDescription, (await readJsonFile(file)).value, file).epoch;
}

function trajectoryText(found: ConvertedTrajectory): string {
  const rows = [
    ['rows', `${found.rows}, ${found.rateHz.toFixed(1)} a second`],
    ['from', `${found.fromUtc} UTC`],
    ['to', `${found.toUtc} UTC`],
    ['heights', `${found.heightsM[0].toFixed(1)} to ${found.heightsM[1].toFixed(1)} m above the ellipsoid`],
    ['velocities', found.velocities ? 'recorded' : 'from the positions'],
    ['deviations', found.standardDeviations ? 'recorded or stated' : 'assumed'],
    ...(found.fixes.length > 0 ? [['fix', found.fixes.map((f) => `${f.name} ${f.rows}`).join(', ')]] : []),
    ...(found.outFile === null ? [] : [['written', found.outFile]]),
  ];
  const when = (utc: string): string => utc.slice(11, 19);
  return [
    table(['trajectory', ''], rows),
    '',
    ...found.notes.flatMap((note) => wrapText(note, 2)),
    ...found.findings.flatMap((f) =>
      wrapText(
        `${f.weight}: ${f.name}. ${f.detail}${f.fromUtc && f.toUtc ? ` [${when(f.fromUtc)} to ${when(f.toUtc)} UTC]` : ''}`,
        2,
      ),
    ),
  ]
    .join('\n')
    .trimEnd();
}
