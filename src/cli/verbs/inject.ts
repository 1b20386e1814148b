import { type Command, InvalidArgumentError } from 'commander';
import { type InjectOutcome, injectFlight } from '../../jobs/inject/injectFlight.ts';
import { runVerb } from '../runVerb.ts';
import { table } from '../table.ts';

export function injectVerb(program: Command): void {
  program
    .command('inject')
    .description('add synthetic discharges to an inspected flight and see how weak a one is found')
    .argument('<flight>', 'folder of the flight')
    .requiredOption('--campaign <file>', 'campaign into which the flight was inspected; it is not changed')
    .requiredOption('--rig <file>', 'rig.json of the rig that flew')
    .option('--line <file>', "line.json; without it, the campaign's")
    .option('--registration <file>', 'registration.json as for the inspection')
    .option('--mounting <file>', 'mounting.json as for the inspection')
    .option('--component <id...>', 'components to try, at their least well seen place')
    .option('--all-towers', 'one piece of hardware at each tower')
    .option('--along <list>', 'places along the component, 0 to 1, with commas; else the least well seen', sharesAlong)
    .option('--rates <list>', 'photons per second, with commas; else around the analytic limit', positiveNumbers)
    .option('--trials <number>', 'trials at each rate', wholeNumber, 20)
    .option('--bunch <number>', 'mean events at one instant, 1 = Poisson', positiveNumber, 1)
    .option('--on-mains', 'light near the peak of one half-wave of the mains alone')
    .option('--efficiency <share>', "share of single events found; else from the flight's charges", share)
    .option('--into-frames', 'add photons to the images and find them there, not events; takes longer')
    .option('--seed <number>', 'seed of the synthetic events', wholeNumber, 1)
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((flight: string, options, command: Command) => {
      if (!options.component && !options.allTowers) command.error('error: give --component or --all-towers');
      return runVerb(options, async (watch) => {
        const outcome = await injectFlight(
          flight,
          {
            campaignFile: options.campaign,
            rigFile: options.rig,
            lineFile: options.line ?? null,
            registrationFile: options.registration ?? null,
            mountingFile: options.mounting ?? null,
            componentIds: options.component ?? [],
            along: options.along ?? [],
            ratesHz: options.rates ?? [],
            trials: options.trials,
            bunch: options.bunch,
            onMains: options.onMains === true,
            finderEfficiency: options.efficiency ?? null,
            intoFrames: options.intoFrames === true,
            seed: options.seed,
          },
          watch,
        );
        return { text: injectText(outcome), json: outcome };
      });
    });
}

function positiveNumber(text: string): number {
  const value = Number(text);
  if (!(value > 0) || !Number.isFinite(value)) throw new InvalidArgumentError('expected a number above 0');
  return value;
}

function positiveNumbers(text: string): number[] {
  return text
    .split(',')
    .map(positiveNumber)
    .sort((a, b) => a - b);
}

function wholeNumber(text: string): number {
  const value = positiveNumber(text);
  if (!Number.isInteger(value)) throw new InvalidArgumentError('expected a whole number above 0');
  return value;
}

function sharesAlong(text: string): number[] {
  const values = text.split(',').map(Number);
  if (values.some((value) => !(value >= 0 && value <= 1)))
    throw new InvalidArgumentError('expected shares from 0 to 1');
  return values;
}

function share(text: string): number {
  const value = positiveNumber(text);
  if (value > 1) throw new InvalidArgumentError('expected a share, above 0 and up to 1');
  return value;
}

const rate = (hz: number | null): string => (hz === null ? '-' : hz.toExponential(2));

function injectText(outcome: InjectOutcome): string {
  const limits = table(
    ['component', 'along', 'passes', 'range m', 'at 95 %', '95 % interval', 'formula', 'ratio'],
    outcome.components.map((c) => [
      c.componentId,
      c.along.toFixed(2),
      String(c.passes),
      c.nearestRangeM === null ? '-' : c.nearestRangeM.toFixed(1),
      rate(c.limitHz),
      c.limitLower95Hz === null ? '-' : `${rate(c.limitLower95Hz)} to ${rate(c.limitUpper95Hz)}`,
      c.analyticLimitHz === null ? 'not seen' : rate(c.analyticLimitHz),
      c.limitHz === null || c.analyticLimitHz === null ? '-' : (c.limitHz / c.analyticLimitHz).toFixed(2),
    ]),
  );
  const points = table(
    ['component', 'along', 'photons/s', 'events', 'found', '95 % interval'],
    outcome.components.flatMap((c) =>
      c.points.map((point) => [
        c.componentId,
        c.along.toFixed(2),
        rate(point.rateHz),
        point.meanEvents.toFixed(1),
        `${point.found} of ${point.trials}`,
        `${(100 * point.lower95).toFixed(0)} to ${(100 * point.upper95).toFixed(0)} %`,
      ]),
    ),
  );
  const passes = table(
    ['component', 'along', 'pass', 'frames', 'range m', 'photons/s', 'found'],
    outcome.components.flatMap((c) =>
      c.views.length < 2
        ? []
        : c.views.flatMap((view, pass) =>
            c.points.map((point) => [
              c.componentId,
              c.along.toFixed(2),
              String(pass + 1),
              String(view.frames),
              view.nearestM.toFixed(1),
              rate(point.rateHz),
              `${point.foundByPass[pass]} of ${point.trials}`,
            ]),
          ),
    ),
  );
  return [
    `Flight '${outcome.flight}': threshold ${outcome.threshold.toFixed(1)} (ln likelihood ratio, ${outcome.falseAlarmsPerHour} false alarms an hour),`,
    `${outcome.backgroundPerFrame.toFixed(1)} background events a frame, finder efficiency ${outcome.finderEfficiency.toFixed(2)}, ${outcome.trials} trials a rate,`,
    outcome.intoFrames ? 'photons added to the images.' : "events added to the flight's own.",
    'Rates are photons per second, in band, at the source; places are along the axis of',
    'the component, from 0 to 1. At 95 %: the rate found with 95 %; formula: the limit that',
    'coverage states for such light; ratio: found over stated.',
    '',
    limits,
    '',
    points,
    ...(outcome.components.some((c) => c.views.length > 1) ? ['', 'Each pass taken alone:', passes] : []),
  ].join('\n');
}
