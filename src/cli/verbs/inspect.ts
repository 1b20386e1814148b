import { type Command, InvalidArgumentError } from 'commander';
import { usualThreads } from '../../jobs/inspect/FrameThreads.ts';
import { type InspectOutcome, inspectFlight } from '../../jobs/inspect/inspectFlight.ts';
import { runVerb } from '../runVerb.ts';
import { table } from '../table.ts';
import { wholeNumber } from '../wholeNumber.ts';
import { wrapText } from '../wrapText.ts';

export function inspectVerb(program: Command): void {
  program
    .command('inspect')
    .description('find, place and grade the discharges of a flight, into a campaign')
    .argument('<flight>', 'folder of the flight, or MCAP file of `record`')
    .requiredOption('--campaign <file>', 'campaign file (GeoPackage); made if missing')
    .requiredOption('--rig <file>', 'rig.json of the rig that flew')
    .option('--line <file>', 'line.json; without it, discharges are placed but not attributed')
    .option('--registration <file>', 'registration.json of a bench; without it, nominal values serve')
    .option(
      '--response <file>',
      "response.json of `corposant response`; without it, the rig's own gain curve and an even picture",
    )
    .option('--mounting <file>', "mounting.json of `corposant mounting`; without it, the rig's own values")
    .option('--rules <file>', 'priority rules; without it, the rules that ship')
    .option('--alarms <number>', 'false alarms accepted per hour of flight', positiveNumber, 1)
    .option('--as-mounted', 'leave boresight and time offset as stated, whatever the discharges say of them')
    .option('--threads <number>', 'threads that read frames (0: none beside this one)', wholeNumber, usualThreads())
    .option('--again', 'inspect again although nothing has changed')
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((flight: string, options) =>
      runVerb(options, async (watch) => {
        const outcome = await inspectFlight(
          flight,
          {
            campaignFile: options.campaign,
            rigFile: options.rig,
            lineFile: options.line ?? null,
            registrationFile: options.registration ?? null,
            mountingFile: options.mounting ?? null,
            responseFile: options.response ?? null,
            rulesFile: options.rules ?? null,
            falseAlarmsPerHour: options.alarms,
            asMounted: options.asMounted === true,
            threads: options.threads,
            again: options.again === true,
          },
          watch,
        );
        return { text: inspectText(outcome, options.campaign), json: outcome };
      }),
    );
}

function positiveNumber(text: string): number {
  const value = Number(text);
  if (!(value > 0) || !Number.isFinite(value)) throw new InvalidArgumentError('expected a number above 0');
  return value;
}

function inspectText(outcome: InspectOutcome, campaign: string): string {
  const head = outcome.alreadyInspected
    ? `Flight '${outcome.flight}' stands in the campaign with the same input, software and\nparameters: nothing to do (--again inspects it again).`
    : [
        `Flight '${outcome.flight}': ${outcome.uvFrames} ultraviolet frames, ${outcome.photonEvents} photon events,`,
        `${outcome.sightings} sightings (${outcome.suspects} of them suspect and kept out of the findings).`,
      ].join('\n');
  const findings = table(
    ['finding', 'priority', 'component', 'p', '95 % m', 'photons/s', 'passes'],
    outcome.findings.map((f) => [
      f.id,
      f.priority,
      f.componentId ?? 'none of those known',
      f.componentProbability.toFixed(2),
      f.accuracy95M.toFixed(2),
      f.rateHz.toExponential(1),
      String(f.passes),
    ]),
  );
  const correction = wrapText(`Correction of the mounting: ${outcome.mountingCorrection}.`, 0, 78).join('\n');
  return `${head}\n\n${findings}\n\n${correction}\n\nCampaign: ${campaign}`;
}
