import type { Command } from 'commander';
import { reasonInEnglish } from '../../grade/reasonsInEnglish.ts';
import type { FindingTrace, TracedFlight, TracedSighting } from '../../jobs/why/traceFinding.ts';
import { traceFinding } from '../../jobs/why/traceFinding.ts';
import { subtract } from '../../maths/vec3.ts';
import { reportContents } from '../../report/ReportContents.ts';
import { runVerb } from '../runVerb.ts';
import { table } from '../table.ts';
import { wrapText } from '../wrapText.ts';

export function whyVerb(program: Command): void {
  program
    .command('why')
    .description('tell why a finding is there: rule, rays, photon events, registration, software')
    .argument('<campaign>', 'campaign file (GeoPackage)')
    .argument('<finding>', 'id of the finding, or its number in the report (F3)')
    .option('--events <number>', 'photon events of each sighting to print', wholeNumber, 3)
    .option('--json', 'print the result as JSON, with every ray')
    .option('--quiet', 'print no progress')
    .action((campaign: string, finding: string, options) =>
      runVerb(options, async () => {
        const trace = traceFinding(campaign, finding, (store, number) => {
          const contents = reportContents(store);
          const all = [...(contents?.findings ?? []), ...(contents?.rejected ?? [])];
          return all.find((one) => `F${one.number}` === number.toUpperCase())?.finding.id ?? null;
        });
        return { text: whyText(trace, options.events), json: trace };
      }),
    );
}

const wholeNumber = (text: string): number => Math.max(0, Math.trunc(Number(text)) || 0);

const scientific = (x: number): string => x.toExponential(2).replace('e+', 'e');

function whyText(trace: FindingTrace, events: number): string {
  const { finding, discharge, component } = trace;
  const lines = [
    `${finding.id}: ${finding.grade.priority}`,
    `campaign '${trace.campaign}', ${finding.decision === 'open' ? 'not yet reviewed' : finding.decision}`,
    '',
    ...section('The rule', ruleLines(trace)),
    ...section(
      'The reasoning',
      finding.grade.reasons === undefined
        ? wrapText(finding.grade.reasoning)
        : finding.grade.reasons.flatMap((reason) => wrapText(reasonInEnglish(reason), 2)),
    ),
    ...(trace.change ? section(`The change: ${trace.change.change}`, changeLines(trace)) : []),
    ...section('The place', placeLines(trace)),
    ...section('The strength', strengthLines(trace)),
  ];
  for (const sighting of trace.sightings)
    lines.push(...section(`Sighting ${sighting.id}`, sightingLines(sighting, events)));
  if (trace.evidence.length > 0)
    lines.push(
      ...section(
        'Pictures',
        trace.evidence.map(
          ({ utc, colourFrame, rangeM }) => `colour frame ${colourFrame}, ${utc}, range ${rangeM.toFixed(1)} m`,
        ),
      ),
    );
  for (const flight of trace.flights)
    lines.push(...section(`Made from flight '${flight.flight.name}'`, flightLines(flight)));
  if (trace.review.length > 0)
    lines.push(
      ...section(
        'Review',
        trace.review.flatMap(({ atUtc, who, what, value, why }) =>
          wrapText(`${atUtc}  ${who}: ${what}${value === '' ? '' : ` '${value}'`}${why ? ` (${why})` : ''}`, 2),
        ),
      ),
    );
  const where = component === null ? 'none of the components' : `${component.kind} ${component.id}`;
  lines.push(`It sits on ${where} with probability ${finding.componentProbability.toFixed(3)};`);
  lines.push(
    `what else it may sit on stands under "The place" (${discharge.attribution.candidates.length} candidates).`,
  );
  return lines.join('\n');
}

const section = (title: string, body: readonly string[]): string[] => [title, ...body.map((line) => `  ${line}`), ''];

function ruleLines({ rule, finding }: FindingTrace): string[] {
  if (rule === null) return [`'${finding.grade.rule}' (its table was not kept with the campaign)`];
  const when = rule.met.map(({ condition, asked, found }) => [condition, asked, found]);
  return [
    ...wrapText(`'${rule.rule.name}' of the table '${rule.table}', the first that holds:`, 2, 78),
    ...(when.length === 0
      ? ['it has no conditions and takes what no other rule took']
      : table(['condition', 'asked', 'found'], when)
          .split('\n')
          .flatMap((line) => wrapText(line, 4, 78))),
    ...wrapText(`Advice: ${finding.grade.advice}`, 2, 78),
  ];
}

function changeLines({ change, comparison }: FindingTrace): string[] {
  if (change === null) return [];
  return [
    ...wrapText(reasonInEnglish(change.because), 2, 78),
    ...(change.pair
      ? wrapText(
          `Paired with ${change.earlierId}: places ${Math.sqrt(change.pair.squaredDistance).toFixed(1)} of their own standard deviations apart, one component with probability ${change.pair.sharedComponent.toFixed(2)}.`,
          2,
          78,
        )
      : []),
    ...(change.adjustedProbability === null
      ? []
      : [`Adjusted for all that were looked at: ${scientific(change.adjustedProbability)}`]),
    ...(change.rate
      ? wrapText(
          `The ratio is uncertain by ${change.rate.budget.map(({ name, relativeSigma }) => `${name} ${(100 * relativeSigma).toFixed(0)} %`).join(', ')} beside counting.`,
          2,
          78,
        )
      : []),
    ...(comparison
      ? [`Against '${comparison.earlierCampaign}', result ${comparison.earlierResultHash.slice(0, 16)}`]
      : []),
  ];
}

function asMountedLines({ asMounted, positionEnuM }: FindingTrace['discharge']): string[] {
  if (!asMounted) return [];
  const moved = subtract(positionEnuM, asMounted.positionEnuM).map((d) => d.toFixed(3));
  const [lon, lat, height] = asMounted.positionLlh;
  return [
    `with the mounting as stated: ${lat.toFixed(7)}, ${lon.toFixed(7)}, ${height.toFixed(2)} m;`,
    `moved by a correction of it: ${moved.join(', ')} m east, north, up`,
  ];
}

function placeLines({ discharge, coverage }: FindingTrace): string[] {
  const [lon, lat, height] = discharge.positionLlh;
  const sigma = [0, 4, 8].map((i) => Math.sqrt(discharge.covarianceEnuM2[i]).toFixed(3));
  const common = [0, 4, 8].map((i) => Math.sqrt(discharge.systematicCovarianceEnuM2[i]).toFixed(3));
  return [
    `latitude ${lat.toFixed(7)}, longitude ${lon.toFixed(7)}, ${height.toFixed(2)} m (WGS 84, ellipsoidal)`,
    `1 sigma east, north, up: ${sigma.join(', ')} m;`,
    `of that common to all rays: ${common.join(', ')} m`,
    `${discharge.rays} rays of ${discharge.passes} ${discharge.passes === 1 ? 'pass' : 'passes'}, widest crossing ${discharge.crossingDeg.toFixed(1)} degrees,`,
    `residuals ${discharge.normalisedRms.toFixed(2)} of what was stated${discharge.heldByLine ? '; depth held by the line model' : ''}`,
    ...asMountedLines(discharge),
    ...table(
      ['on', 'p', 'distance m', 'along'],
      discharge.attribution.candidates
        .slice(0, 4)
        .map((c) => [
          c.componentId ?? 'none of those known',
          c.probability.toFixed(3),
          c.distanceM.toFixed(2),
          c.along.toFixed(2),
        ]),
    ).split('\n'),
    ...(coverage?.limitHz
      ? [`a discharge of ${scientific(coverage.limitHz)} photons/s would have been found there with 95 %`]
      : []),
  ];
}

function strengthLines({ discharge: { rate } }: FindingTrace): string[] {
  return [
    `${scientific(rate.rateHz)} photons/s (95 %: ${scientific(rate.interval.lower)} to ${scientific(rate.interval.upper)}), ${rate.bandNm.join(' to ')} nm`,
    `${rate.events.toFixed(1)} events${rate.background === undefined ? '' : `, ${rate.background.toFixed(1)} of background taken off`}; variance over mean ${rate.overdispersion.toFixed(2)}`,
    ...wrapText(
      `budget, 1 sigma: ${rate.budget.map(({ name, relativeSigma }) => `${name} ${(100 * relativeSigma).toFixed(1)} %`).join(', ')}`,
      2,
      78,
    ),
    ...rate.notes.flatMap((note) => wrapText(note, 2, 78)),
  ];
}

function sightingLines(sighting: TracedSighting, events: number): string[] {
  const { rays } = sighting;
  const lines = [
    `${sighting.fromUtc} to ${sighting.toUtc}`,
    `${sighting.events.toFixed(1)} events in ${sighting.framesInView} frames in view; ln likelihood ratio ${sighting.logLikelihoodRatio.toFixed(1)},`,
    `as strong by chance ${scientific(sighting.falseAlarmsPerHour)} times an hour of flight`,
  ];
  if (rays === null) return [...lines, 'its rays were not kept by the release that inspected'];
  const order = [...rays.event.keys()].sort((a, b) => rays.membership[b] - rays.membership[a]).slice(0, events);
  return [
    ...lines,
    ...wrapText(
      `${rays.event.length} rays, frames ${rays.frame[0]} to ${rays.frame.at(-1)}, rows ${rays.event[0]} to ${rays.event.at(-1)} of the event table`,
      2,
      78,
    ),
    ...(events === 0
      ? []
      : table(
          ['event row', 'frame', 't_ns', 'x px', 'y px', 'p'],
          order
            .sort((a, b) => a - b)
            .map((i) => [
              String(rays.event[i]),
              String(rays.frame[i]),
              String(rays.tNs[i]),
              rays.xPx[i].toFixed(2),
              rays.yPx[i].toFixed(2),
              rays.membership[i].toFixed(3),
            ]),
        ).split('\n')),
    ...(rays.event.length > events ? [`and ${rays.event.length - events} more (--json has all)`] : []),
  ];
}

function flightLines({ flight, settings, eventTable }: TracedFlight): string[] {
  const { provenance } = flight;
  const short = (hash: string): string => hash.slice(0, 16);
  const state = {
    'as inspected': 'is there and is the one that was inspected',
    altered: 'is there but is NOT the one that was inspected',
    missing: 'is missing',
    'not recorded': 'was not recorded',
  }[eventTable.kind];
  return [
    `software      ${provenance.software}`,
    `registration  ${short(provenance.registrationHash)}${settings ? `  ${settings.registration.model}, ${settings.registration.nominal ? 'nominal values' : `${Number(settings.registration.heldOutRmsPx).toFixed(3)} px on what was left out`}` : ''}`,
    `rig           ${short(provenance.rigHash)}  ${flight.rigId}`,
    ...(settings ? wrapText(`mounting      ${settings.mounting.source}`, 16, 78) : []),
    `line model    ${short(provenance.lineHash)}`,
    `flight        ${short(provenance.flightHash)}`,
    `parameters    ${short(provenance.parametersHash)}`,
    ...(settings
      ? wrapText(
          `              ${Object.entries(settings.parameters)
            .map(([name, value]) => `${name} ${String(value)}`)
            .join(', ')}`,
          14,
          78,
        )
      : []),
    ...wrapText(
      `event table   ${eventTable.kind === 'not recorded' ? '' : `${settings?.eventsFile} `}${state}${settings ? ` (SHA-256 ${short(settings.eventsHash)})` : ''}`,
      14,
      78,
    ),
  ];
}
