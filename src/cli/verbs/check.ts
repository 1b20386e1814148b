import { type Command, InvalidArgumentError } from 'commander';
import { checkFlight, type FlightCheck } from '../../jobs/check/checkFlight.ts';
import { runVerb } from '../runVerb.ts';
import { table } from '../table.ts';
import { wrapText } from '../wrapText.ts';

export function checkVerb(program: Command): void {
  program
    .command('check')
    .description('in the field: is the flight fit to go home, and if not, what to fly again')
    .argument('<flight>', 'folder of the flight, or a recording (.mcap)')
    .requiredOption('--rig <file>', 'rig.json of the rig that flew')
    .option('--line <file>', 'line.json: without it, coverage cannot be told')
    .option('--structures <ids>', 'towers that were to be flown, e.g. T4,T5,T6; without it, all', ids, [])
    .option('--registration <file>', 'registration.json of a bench; without it, nominal values serve')
    .option('--mounting <file>', 'mounting.json; without it, rig.json states how the camera sits')
    .option('--campaign-events <file>', 'photon events of this flight (Parquet), where they are stored already')
    .option('--want <number>', 'photons/s of the weakest discharge that must be found', positive)
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((flight: string, options) =>
      runVerb(options, async (watch) => {
        const result = await checkFlight(
          flight,
          {
            rigFile: options.rig,
            registrationFile: options.registration ?? null,
            mountingFile: options.mounting ?? null,
            lineFile: options.line ?? null,
            structures: options.structures,
            eventsFile: options.campaignEvents ?? null,
            wantedHz: options.want ?? Number.POSITIVE_INFINITY,
          },
          watch,
        );
        const { epochUtc, findings, ...rest } = result;
        const json = {
          ...rest,
          findings: findings.map(({ fromNs, toNs, ...finding }) => ({
            ...finding,
            ...(fromNs === undefined || toNs === undefined ? {} : { fromUtc: epochUtc(fromNs), toUtc: epochUtc(toNs) }),
          })),
        };
        return { text: checkText(result), json, verdictNegative: !result.fitToGoHome };
      }),
    );
}

const ids = (text: string): string[] =>
  text
    .split(',')
    .map((id) => id.trim())
    .filter((id) => id !== '');

function positive(text: string): number {
  const value = Number(text);
  if (!(value > 0) || !Number.isFinite(value)) throw new InvalidArgumentError('expected a number above 0');
  return value;
}

/** Room for the names of components in a terminal of 80 columns; where they do not fit, --json has them. */
const NAMES_WIDTH = 34;

function namesOf(components: readonly string[]): string {
  const text = components.join(' ');
  return text.length > NAMES_WIDTH ? 'see --json' : text;
}

export function checkText(check: FlightCheck): string {
  const { figures: f } = check;
  const faults = check.findings.filter((each) => each.weight === 'fault').length;
  const verdict = check.fitToGoHome
    ? 'Fit to go home.'
    : `NOT fit to go home: ${[
        faults > 0 ? `${faults} ${faults === 1 ? 'fault' : 'faults'}` : '',
        check.repeat.length > 0 ? `${check.repeat.length} places to fly again` : '',
      ]
        .filter((part) => part !== '')
        .join(', ')}.`;
  const sync = f.synchronisation;
  const rows: string[][] = [
    ['frames', `${f.uvFrames} uv (${f.uvMissing} missing), ${f.colourFrames} colour (${f.colourMissing} missing)`],
    ['jitter', `${f.uvJitterMs.toFixed(3)} ms`],
    [
      'colour - uv',
      sync === null
        ? 'not told'
        : sync.locked
          ? `${sync.meanOffsetMs.toFixed(2)} ms, scatter ${sync.scatterMs.toFixed(3)} ms, drift ${sync.driftMsPerMinute.toFixed(3)} ms/min`
          : 'running freely',
    ],
    ['gain', f.gains.length === 1 ? String(f.gains[0].gain) : `${f.gains.length} stretches`],
    [
      'events/frame',
      `${f.eventsPerFrame.median.toFixed(1)} (${f.eventsPerFrame.least.toFixed(1)} to ${f.eventsPerFrame.most.toFixed(1)}), ${f.framesRead} images read`,
    ],
    ['charge/curve', f.chargeRatio === null ? 'not told' : f.chargeRatio.toFixed(2)],
    [
      'dark level',
      Number.isFinite(f.darkDn.least) ? `${f.darkDn.least.toFixed(1)} to ${f.darkDn.most.toFixed(1)} DN` : 'not told',
    ],
    ['with a pose', `${f.framesWithPose} of ${f.uvFrames} frames`],
    [
      'rig',
      f.agreement.normalisedRms === null
        ? 'no strong source to tell by'
        : `${f.agreement.sources} sources, ${f.agreement.rays} rays, scatter ${f.agreement.normalisedRms.toFixed(2)} of the stated; ${f.agreement.pairs.filter((p) => p.agrees).length} of ${f.agreement.pairs.length} pairs agree`,
    ],
    [
      'coverage',
      f.coverage === null
        ? 'not told'
        : `${f.coverage.clear} of ${f.coverage.components} components${f.coverage.worstLimitHz === null ? '' : `, down to ${f.coverage.worstLimitHz.toExponential(1)} photons/s`}`,
    ],
  ];
  const when = (tNs: number): string => check.epochUtc(tNs).slice(11, 19);
  return [
    `Flight '${check.flight}', ${f.minutes.toFixed(1)} min. ${verdict}`,
    '',
    ...rows.flatMap(([name, text]) => wrapText(`${name.padEnd(13)}${text}`, 13)),
    '',
    ...check.findings.flatMap((each) => {
      const stretch =
        each.fromNs === undefined || each.toNs === undefined ? '' : ` [${when(each.fromNs)} to ${when(each.toNs)} UTC]`;
      return wrapText(`${each.weight}: ${each.name}. ${each.detail}${stretch}`, 2);
    }),
    ...(check.repeat.length > 0
      ? [
          '',
          'To fly again',
          table(
            ['where', 'why', 'parts', 'which'],
            check.repeat.map((r) => [r.place, r.because, String(r.components.length), namesOf(r.components)]),
          ),
        ]
      : []),
  ]
    .join('\n')
    .trimEnd();
}
