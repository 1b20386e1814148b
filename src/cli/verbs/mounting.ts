import { type Command, InvalidArgumentError } from 'commander';
import { type MountingOutcome, measureMounting } from '../../jobs/mounting/measureMounting.ts';
import { runVerb } from '../runVerb.ts';
import { table } from '../table.ts';

export function mountingVerb(program: Command): void {
  program
    .command('mounting')
    .description('measure how the ultraviolet camera sits on the body: boresight, lever arm, time offset')
    .argument('<flight>', 'folder of a flight with opposite passes over the same lights')
    .requiredOption('--rig <file>', 'rig.json of the rig that flew')
    .requiredOption('--registration <file>', 'registration.json of its bench run')
    .requiredOption('--out <file>', 'mounting.json to write')
    .option('--line <file>', 'line.json; without it, lights are sought everywhere within range')
    .option('--surveyed <file>', 'surveyed.csv of lamps with known coordinates')
    .option('--hold-lever', 'keep the lever arm at its stated value')
    .option('--alarms <number>', 'false alarms accepted per hour of flight', positiveNumber, 1)
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((flight: string, options) =>
      runVerb(options, async (watch) => {
        const outcome = await measureMounting(
          flight,
          {
            rigFile: options.rig,
            registrationFile: options.registration,
            outFile: options.out,
            lineFile: options.line ?? null,
            surveyedFile: options.surveyed ?? null,
            holdLeverArm: options.holdLever === true,
            falseAlarmsPerHour: options.alarms,
          },
          watch,
        );
        return {
          text: mountingText(outcome),
          json: outcome.kind === 'refused' ? { ...outcome, leftOut: [...outcome.leftOut] } : outcome,
          verdictNegative: outcome.kind === 'refused' || !outcome.document.accepted,
        };
      }),
    );
}

function positiveNumber(text: string): number {
  const value = Number(text);
  if (!(value > 0) || !Number.isFinite(value)) throw new InvalidArgumentError('expected a number above 0');
  return value;
}

const CURE: Readonly<Record<Extract<MountingOutcome, { kind: 'refused' }>['because'], string>> = {
  'no lights': 'Fly past the same lights at least twice, with lamps strong enough to be found.',
  'one pass only': 'Fly past the same lights again, on the opposite heading.',
  'bad start': 'The stated mounting puts a light behind the camera: check yaw, pitch and roll in the rig file.',
  'not determined': 'State deviations of the mounting in the rig file, or fly passes on opposite headings.',
  'no convergence': 'The stated mounting is too far off: correct it roughly first.',
};

function mountingText(outcome: MountingOutcome): string {
  if (outcome.kind === 'refused')
    return [
      `No mounting: ${outcome.because}. ${CURE[outcome.because]}`,
      ...[...outcome.leftOut].map(([because, n]) => `${n} sightings left out: ${because}`),
    ].join('\n');
  const { document, file } = outcome;
  const { statistics, check, parameters } = document;
  const advice = parameters.flatMap((p) => p.advice.map((sentence) => `${p.name}: ${sentence}`));
  return [
    `${statistics.views} views of ${statistics.lights} lights (${statistics.surveyedLights} surveyed) in ${statistics.passes} passes, ${statistics.rays} rays;`,
    `residuals ${statistics.normalisedRms.toFixed(2)} times their standard deviations.`,
    ...statistics.leftOut.map(({ because, sightings }) => `${sightings} sightings left out: ${because}`),
    '',
    table(
      ['parameter', 'unit', 'nominal', 'estimate', 'sigma', 'stated sigma', 'verdict', 'correlated most with', ''],
      parameters.map((p) => [
        p.name,
        p.unit,
        p.nominal.toFixed(4),
        p.estimate.toFixed(4),
        p.sigma.toFixed(4),
        p.priorSigma === null ? 'none' : p.priorSigma.toFixed(4),
        p.verdict,
        p.mostCorrelatedWith,
        p.held ? '' : p.correlation.toFixed(2),
      ]),
    ),
    "Boresight: a turn of the camera about the body's axes, from the nominal one.",
    ...(advice.length > 0 ? ['', 'What would make it better', ...advice] : []),
    '',
    ...(check
      ? [
          `Check: each of these left out in turn; residuals of the part left out, in standard deviations`,
          table(
            ['left out', 'rays', 'nominal', 'estimated from the rest'],
            check.parts.map((p) => [p.leftOut, String(p.rays), p.nominalRms.toFixed(3), p.estimatedRms.toFixed(3)]),
          ),
        ]
      : ['No check: there are not two parts of the flight to leave out in turn.']),
    '',
    document.accepted
      ? 'ACCEPTED: parts of the flight that the estimation did not see agree better with it than with the nominal mounting.'
      : 'NOT ACCEPTED: parts of the flight that the estimation did not see do not agree better with it than with the nominal mounting.',
    `Mounting: ${file}`,
  ].join('\n');
}
