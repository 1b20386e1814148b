import { type Command, InvalidArgumentError } from 'commander';
import { type FlightPlan, type PlanOutcome, planFlight } from '../../jobs/plan/planFlight.ts';
import { wrapDeg180 } from '../../maths/angle.ts';
import type { ExpectedPosition } from '../../place/plan/expectedPosition.ts';
import { APPROACH_CAUTION, type ApproachDistance } from '../../place/plan/minimumApproachDistance.ts';
import { runVerb } from '../runVerb.ts';
import { table } from '../table.ts';
import { wrapText } from '../wrapText.ts';

export function planVerb(program: Command): void {
  program
    .command('plan')
    .description('before the flight: what a standoff and a speed give, and passes along the line')
    .requiredOption('--rig <file>', 'rig.json of the rig that will fly')
    .option('--registration <file>', 'registration.json of a bench; without it, nominal values serve')
    .option('--line <file>', 'line.json: passes are proposed along it')
    .option('--standoff <list>', 'metres to the nearest conductor, e.g. 30,40,50; passes take the first', numbers, [40])
    .option('--speed <list>', 'metres a second, e.g. 10,15; passes take the first', numbers, [15])
    .option('--rate <hz>', 'ultraviolet frames a second', positive, 50)
    .option('--exposure <ms>', 'ultraviolet exposure', positive, 18)
    .option('--colour-exposure <ms>', 'colour exposure', positive, 1)
    .option('--gain <setting>', 'gain setting; without it, the middle of the curve', number)
    .option('--voltage <kv>', 'line to line; without it, that of the line', positive)
    .option('--depth <m>', 'from the nearest conductor to the farthest hardware', positive)
    .option('--turn <deg>', 'turning of the aircraft, degrees a second', notNegative, 5)
    .option('--position-sigma <m>', 'of the trajectory, 1 sigma', positive, 0.03)
    .option('--tilt-sigma <deg>', 'of roll and pitch, 1 sigma', positive, 0.01)
    .option('--heading-sigma <deg>', 'of the heading, 1 sigma', positive, 0.03)
    .option('--mains <hz>', 'mains frequency', positive, 50)
    .option('--background <number>', 'background events a frame', positive, 5)
    .option('--noise <dn>', 'dark noise of a pixel', positive, 1.2)
    .option('--acknowledge-approach', 'plan although a standoff lies below a published approach distance')
    .option('--out <folder>', 'write passes.geojson and passes.kml there')
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((options) =>
      runVerb(options, async () => {
        const outcome = await planFlight({
          rigFile: options.rig,
          registrationFile: options.registration ?? null,
          lineFile: options.line ?? null,
          standoffsM: options.standoff,
          speedsMps: options.speed,
          frameRateHz: options.rate,
          exposureS: options.exposure / 1000,
          colourExposureS: options.colourExposure / 1000,
          gain: options.gain ?? null,
          voltageKv: options.voltage ?? null,
          depthM: options.depth ?? null,
          turnDegps: options.turn,
          positionSigmaM: options.positionSigma,
          tiltSigmaDeg: options.tiltSigma,
          headingSigmaDeg: options.headingSigma,
          mainsHz: options.mains,
          backgroundPerFrame: options.background,
          pixelNoiseDn: options.noise,
          acknowledgeApproach: options.acknowledgeApproach === true,
          outFolder: options.out ?? null,
        });
        return {
          text: planText(outcome),
          json: outcome.approach.length > 0 ? { ...outcome, caution: APPROACH_CAUTION } : outcome,
          verdictNegative: outcome.kind === 'refused',
        };
      }),
    );
}

function number(text: string): number {
  const value = Number(text);
  if (text.trim() === '' || !Number.isFinite(value)) throw new InvalidArgumentError('expected a number');
  return value;
}

function positive(text: string): number {
  const value = number(text);
  if (!(value > 0)) throw new InvalidArgumentError('expected a number above 0');
  return value;
}

function notNegative(text: string): number {
  const value = number(text);
  if (value < 0) throw new InvalidArgumentError('expected a number, 0 or above');
  return value;
}

const numbers = (text: string): number[] => text.split(',').map(positive);

export function planText(outcome: PlanOutcome): string {
  if (outcome.kind === 'refused')
    return [
      ...wrapText(`No plan: ${outcome.because}.`),
      '',
      ...approachText(outcome.approach, outcome.voltageKv),
      '',
      ...wrapText('Fly farther off, or give --acknowledge-approach where whoever is competent has allowed it.'),
    ].join('\n');
  return [
    `Rig '${outcome.rig}'${outcome.line ? `, line '${outcome.line}'` : ''}${outcome.voltageKv ? `, ${outcome.voltageKv} kV` : ''}, gain ${outcome.gain}, depth ${outcome.depthM.toFixed(1)} m`,
    '',
    ...figuresText(outcome),
    '',
    ...passesText(outcome),
    ...viewsText(outcome),
    ...(outcome.approach.length > 0 ? [...approachText(outcome.approach, outcome.voltageKv), ''] : []),
    ...outcome.warnings.flatMap((text) => wrapText(`Warning: ${text}`, 2)),
    ...outcome.assumed.flatMap((text) => wrapText(`Assumed: ${text}.`, 2)),
    ...outcome.files.map((file) => `  ${file}`),
  ]
    .join('\n')
    .trimEnd();
}

function figuresText({ rows, readout }: FlightPlan): string[] {
  const first = rows.map((row) => [String(row.standoffM), String(row.speedMps)]);
  const head = ['off m', 'm/s'];
  return [
    'What the images show: millimetres a pixel, metres covered (along x up), smear',
    table(
      [...head, 'uv mm', 'col mm', 'uv image m', 'col image m', 'uv px', '+turn', 'col px'],
      rows.map((row, i) => [
        ...first[i],
        (1000 * row.uvSamplingM).toFixed(1),
        (1000 * row.colourSamplingM).toFixed(1),
        `${row.uvSwathM.alongM.toFixed(1)} x ${row.uvSwathM.upM.toFixed(1)}`,
        `${row.colourSwathM.alongM.toFixed(1)} x ${row.colourSwathM.upM.toFixed(1)}`,
        row.uvSmearPx.toFixed(1),
        row.uvSmearByTurnPx.toFixed(1),
        row.colourSmearPx.toFixed(1),
      ]),
    ),
    '',
    'Parallax between the images (colour px) and what a pass finds with 95 %',
    table(
      [...head, 'against far', 'over depth', 'range to m', 'frames', 'events', 'photons/s'],
      rows.map((row, i) => [
        ...first[i],
        row.parallaxAtStandoffPx.toFixed(1),
        row.parallaxOverDepthPx.toFixed(1),
        row.rangeNeededM.toFixed(2),
        String(row.framesInView),
        row.eventsNeeded === null ? '-' : row.eventsNeeded.toFixed(1),
        row.limitHz === null ? 'not found' : row.limitHz.toExponential(1),
      ]),
    ),
    'range to: how well a range must be known for an overlay right to 0.3 px',
    '',
    'Position of such a discharge, 1 sigma in m: across the line (depth), along, up',
    table(
      [...head, 'one pass', 'both sides', 'one ray, by the budget'],
      rows.map((row, i) => [
        ...first[i],
        sigmaText(row.onePass),
        sigmaText(row.bothSides),
        row.budget.acrossM.toFixed(3),
      ]),
    ),
    '',
    ...wrapText(
      `Single events: mean charge ${readout.meanChargeDn.toFixed(0)} DN, peak ${readout.meanPeakDn.toFixed(1)} DN; ${(100 * readout.foundShare).toFixed(1)} % stand out of the noise, ${(100 * readout.saturatedShare).toFixed(1)} % saturate.`,
    ),
  ];
}

const sigmaText = (position: ExpectedPosition): string =>
  position.kind === 'refused'
    ? position.because
    : [position.sigma.acrossM, position.sigma.alongM, position.sigma.upM].map((m) => m.toFixed(3)).join(' ');

function passesText({ passes, rows }: FlightPlan): string[] {
  if (!passes) return [];
  if (passes.kind === 'refused') return [...wrapText(`No passes: ${passes.because}.`), ''];
  const { standoffM, speedMps } = rows[0];
  const totalM = passes.passes.reduce((sum, pass) => sum + pass.lengthM, 0);
  return [
    `Passes at ${standoffM} m and ${speedMps} m/s`,
    table(
      ['pass', 'way m', 'min', 'waypoints', 'nearest m', 'to'],
      passes.passes.map((pass) => [
        pass.name,
        pass.lengthM.toFixed(0),
        (pass.lengthM / speedMps / 60).toFixed(1),
        String(pass.waypoints.length),
        pass.clearanceM.toFixed(2),
        pass.nearestId,
      ]),
    ),
    ...wrapText(
      `${(totalM / 1000).toFixed(1)} km, ${(totalM / speedMps / 60).toFixed(1)} min without turns. The passes know the line model alone: no terrain, trees, crossings or other lines.`,
    ),
    '',
  ];
}

/** Components that the passes do not prove are named up to this number. */
const MOST_NAMED = 8;

function viewsText({ views, passes, rows }: FlightPlan): string[] {
  if (passes?.kind !== 'proposed') return [];
  if (!views)
    return [...wrapText('The line is too long to say here how each component is seen: plan it in sections.'), ''];
  const missed = views.filter((view) => view.missed !== null);
  const proved = views.filter((view) => view.missed === null);
  const twoSides = proved.filter((view) => isSeenFromTwoSides(view.viewAzimuthsDeg)).length;
  const weakest = proved.reduce((most, view) => Math.max(most, view.limitHz ?? 0), 0);
  const frames = proved.map((view) => view.framesInView);
  const proof =
    proved.length === 0
      ? `These passes prove none of the ${views.length} components.`
      : `Of ${views.length} components these passes prove ${proved.length}, ${twoSides} of them from two sides, with ${Math.min(...frames)} to ${Math.max(...frames)} frames each; on the worst seen of them a discharge of ${weakest.toExponential(1)} photons/s is found with 95 %, against ${rows[0].limitHz?.toExponential(1) ?? '-'} in one free pass.`;
  return [
    ...wrapText(proof),
    ...missed.slice(0, MOST_NAMED).flatMap((view) => wrapText(`not proved: ${view.componentId} (${view.missed})`, 2)),
    ...(missed.length > MOST_NAMED ? [`and ${missed.length - MOST_NAMED} more: --json names them`] : []),
    '',
  ];
}

/** Views that lie more than a right angle apart. */
const isSeenFromTwoSides = (azimuthsDeg: readonly number[]): boolean =>
  azimuthsDeg.some((a) => azimuthsDeg.some((b) => Math.abs(wrapDeg180(a - b)) > 90));

function approachText(approach: readonly ApproachDistance[], voltageKv: number | null): string[] {
  return [
    `Published approach distances for ${voltageKv} kV`,
    ...approach.flatMap((each) => wrapText(`${each.distanceM.toFixed(2)} m  ${each.publication}: ${each.meaning}`, 8)),
    ...wrapText(APPROACH_CAUTION),
  ];
}
