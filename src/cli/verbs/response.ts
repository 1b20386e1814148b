import type { Command } from 'commander';
import { type MeasuredResponse, measureResponse } from '../../jobs/response/measureResponse.ts';
import type { FlatFieldMeasurement } from '../../photon/response/flatField.ts';
import { runVerb } from '../runVerb.ts';
import { table } from '../table.ts';
import { wrapText } from '../wrapText.ts';

export function responseVerb(program: Command): void {
  program
    .command('response')
    .description('measure the ultraviolet camera: charge of an event by gain, dark events, proportionality, evenness')
    .argument('<recording>', 'folder of a gain series, or a flight whose background serves')
    .requiredOption('--rig <file>', 'rig.json of the rig that made it')
    .requiredOption('--out <file>', 'response.json to write')
    .option('--campaign-events <file>', 'photon events of this flight (Parquet), where they are stored already')
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((folder: string, options) =>
      runVerb(options, async (watch) => {
        const measured = await measureResponse(
          folder,
          { rigFile: options.rig, outFile: options.out, eventsFile: options.campaignEvents ?? null },
          watch,
        );
        return { text: responseText(measured), json: measured, verdictNegative: measured.file === null };
      }),
    );
}

const percent = (x: number, digits = 1): string => `${(100 * x).toFixed(digits)} %`;
const chance = (p: number): string => (p < 0.001 ? 'below 0.001' : p.toFixed(3));

function responseText({ source, response, lampRefused, file }: MeasuredResponse): string {
  const lampCharges = response.lamp?.kind === 'measured' ? response.lamp.charges : [];
  const charges = [
    ...lampCharges.map((c) => [String(c.gain), c.meanDn.toFixed(2), c.sigmaDn.toFixed(2), '', '', '', '', 'lamp']),
    ...response.gains.map(({ gain, law, byCurveDn }) =>
      law.kind === 'fitted'
        ? [
            String(gain),
            law.meanDn.toFixed(1),
            law.meanSigmaDn.toFixed(1),
            (law.meanDn / byCurveDn).toFixed(3),
            law.spread.toFixed(2),
            percent(law.shareBelowCut),
            chance(law.goodness),
            String(law.count),
          ]
        : [String(gain), '-', '-', '-', '-', '-', '-', law.because],
    ),
  ].sort((a, b) => Number(a[0]) - Number(b[0]));
  const against = response.againstCurve;
  return [
    `${source.kind === 'series' ? 'Gain series' : 'Background of flight'} '${source.name}'`,
    '',
    'Charge of a single event',
    table(['gain', 'mean DN', 'sigma', '/ curve', 'spread', 'below cut', 'fit', 'events'], charges),
    ...(against
      ? wrapText(
          `Against the rig's gain curve: x ${against.factor.toFixed(3)} +/- ${against.sigma.toFixed(3)}; chance that the gains agree on it: ${chance(against.sameShapeChance)}.`,
        )
      : []),
    ...lampLines(response.lamp, lampRefused),
    '',
    'Events per second of exposure, with the 95 % interval',
    table(
      ['light', 'gain', 'exposure ms', 'frames', 'events', 'per s', 'from', 'to'],
      response.rates.map((r) => [
        r.light,
        String(r.gain),
        (1000 * r.exposureS).toFixed(1),
        String(r.frames),
        String(r.events),
        r.perS.toFixed(1),
        r.lowerPerS.toFixed(1),
        r.upperPerS.toFixed(1),
      ]),
    ),
    ...response.linearity.flatMap(({ gain, counts }) =>
      counts.kind === 'measured'
        ? wrapText(
            `Gain ${gain}: events against exposure ${counts.points
              .map((p) => `${(1000 * p.exposureS).toFixed(0)} ms ${signedPercent(p.deviation)}`)
              .join(
                ', ',
              )}; left at no exposure ${counts.perFrameAtZero.toFixed(2)} +/- ${counts.perFrameAtZeroSigma.toFixed(2)} a frame; chance if proportional ${chance(counts.proportionalChance)}.`,
            2,
          )
        : [`Gain ${gain}: ${counts.because}.`],
    ),
    ...flatLines('Even light over the picture', response.flatField),
    ...flatLines('Background over the picture (its light need not be even)', response.background),
    '',
    file ? `Response: ${file}` : 'NOTHING WRITTEN: no gain has a charge that stands out of the noise.',
  ].join('\n');
}

const signedPercent = (x: number): string => `${x >= 0 ? '+' : ''}${(100 * x).toFixed(1)} %`;

function lampLines(lamp: MeasuredResponse['response']['lamp'], refused: MeasuredResponse['lampRefused']): string[] {
  const lines = refused.map(({ gain, because }) => `Lamp at gain ${gain} left out: ${because}.`);
  if (!lamp) return lines;
  if (lamp.kind === 'refused') return [...lines, `Lamp: ${lamp.because}.`];
  return [
    ...lines,
    ...wrapText(
      `Lamp: ${lamp.eventsPerFrame.toFixed(1)} +/- ${lamp.eventsPerFrameSigma.toFixed(1)} events a frame (gain ${lamp.byGain
        .map((g) => `${g.gain}: ${g.eventsPerFrame.toFixed(1)}`)
        .join(
          ', ',
        )})${lamp.proportionalChance === null ? '' : `; chance if charge is proportional to light ${chance(lamp.proportionalChance)}`}.`,
      2,
    ),
  ];
}

function flatLines(title: string, map: FlatFieldMeasurement | null): string[] {
  if (!map) return [];
  if (map.kind === 'refused') return ['', `${title}: ${map.because}.`];
  return [
    '',
    ...wrapText(
      `${title}: ${percent(map.least, 0)} to ${percent(map.greatest, 0)} of the mean (${map.events} events); chance of so uneven counts if even ${chance(map.evenChance)}; fit ${chance(map.goodness)}.`,
      2,
    ),
  ];
}
