import type { Command } from 'commander';
import { type CampaignScore, scoreCampaign } from '../../jobs/score/scoreCampaign.ts';
import { runVerb } from '../runVerb.ts';
import { table } from '../table.ts';

export function scoreVerb(program: Command): void {
  program
    .command('score')
    .description('compare the findings of a campaign with the truth of an invented flight')
    .argument('<campaign>', 'campaign file (GeoPackage)')
    .argument('<truth>', 'truth.json of the invented flight')
    .option('--json', 'print the result as JSON')
    .option('--quiet', 'print no progress')
    .action((campaign: string, truth: string, options) =>
      runVerb(options, async () => {
        const result = await scoreCampaign(campaign, truth);
        return { text: scoreText(result), json: asJson(result) };
      }),
    );
}

const percent = (part: number, of: number): string =>
  of === 0 ? 'none' : `${part} of ${of} (${((100 * part) / of).toFixed(0)} %)`;

function scoreText({ score, summary, traps, changes }: CampaignScore): string {
  const lines = [
    'Detection, by photon events a frame in the best pass',
    table(
      ['strength', 'discharges', 'found'],
      summary.byStrength.filter((c) => c.truths > 0).map((c) => [c.name, String(c.truths), String(c.found)]),
    ),
    '',
    `found                      ${percent(summary.found, summary.truths)}`,
    `false alarms               ${summary.falseAlarms}`,
    `3D error, median           ${summary.medianErrorM.toFixed(3)} m`,
    `3D error, 95 %             ${summary.error95M.toFixed(3)} m`,
    `truth in 95 % ellipsoid    ${percent(summary.insideEllipsoid95, summary.found)}`,
    `right component first      ${percent(summary.attributedRight, summary.found)}`,
    `photon rate, median ratio  ${summary.medianRateRatio.toFixed(2)} of the true rate`,
    `true rate in 95 % interval ${percent(summary.rateInside95, summary.found)}`,
    '',
    table(
      ['truth', 'events', 'found as', 'error m', 'true component', 'p', 'first guess'],
      [
        ...score.matches.map((m) => [
          m.truth.id,
          String(m.truth.events),
          m.found.id,
          m.errorM.toFixed(3),
          m.truth.componentId ?? 'none',
          m.found.probabilityOf(m.truth.componentId).toFixed(2),
          m.attributedRight ? 'right' : (m.found.componentId ?? 'none'),
        ]),
        ...score.missed.map((t) => [t.id, String(t.events), 'missed', '', t.componentId ?? 'none', '', '']),
        ...score.falseAlarms.map((f) => ['no truth', '', f.id, '', '', '', f.componentId ?? 'none']),
      ],
    ),
  ];
  if (traps.length > 0)
    lines.push(
      '',
      table(
        ['trap', 'kind', 'became a finding'],
        traps.map((t) => [t.id, t.trap, t.becameFinding ?? 'no']),
      ),
    );
  if (changes) lines.push('', ...changeLines(changes));
  return lines.join('\n');
}

function changeLines({ changes, withoutTruth }: NonNullable<CampaignScore['changes']>): string[] {
  const count = (verdict: string): number => changes.filter((one) => one.verdict === verdict).length;
  return [
    'Change since the earlier campaign',
    table(
      ['truth', 'became', 'light', 'told', 'ratio', 'verdict'],
      changes.map(({ id, truth, factor, told, verdict }) => [
        id,
        truth,
        factor === null ? '-' : `x ${factor.toFixed(2)}`,
        told === null ? 'no finding' : told.change === 'not comparable' ? told.because.key : told.change,
        told?.rate
          ? `${told.rate.ratio.toFixed(2)} (${told.rate.lower.toFixed(2)}-${told.rate.upper.toFixed(2)})`
          : '-',
        verdict,
      ]),
    ),
    '',
    `told right ${count('right')}, left open for a stated reason ${count('left open')}, wrong ${count('wrong')}, never found ${count('never found')};`,
    `told of places without truth: ${withoutTruth.length}`,
  ];
}

function asJson({ score, summary, traps, changes }: CampaignScore): unknown {
  return {
    ...summary,
    matches: score.matches.map((m) => ({
      truth: m.truth.id,
      events: m.truth.events,
      eventsPerFrame: m.truth.bestPassEventsPerFrame,
      finding: m.found.id,
      errorM: m.errorM,
      errorEnuM: m.errorEnuM,
      normalisedErrorSquared: m.normalisedErrorSquared,
      insideEllipsoid95: m.insideEllipsoid95,
      attributedRight: m.attributedRight,
      firstProbability: m.found.componentProbability,
      probabilityOfTrueComponent: m.found.probabilityOf(m.truth.componentId),
      rateRatio: m.rateRatio,
      rateInside95: m.rateInside95,
    })),
    missed: score.missed.map((t) => ({ truth: t.id, events: t.events, eventsPerFrame: t.bestPassEventsPerFrame })),
    falseAlarmIds: score.falseAlarms.map((f) => f.id),
    traps,
    ...(changes
      ? {
          changes: changes.changes.map(({ told, ...one }) => ({
            ...one,
            told: told?.change ?? null,
            because: told?.because.key ?? null,
            ratio: told?.rate?.ratio ?? null,
          })),
          changesWithoutTruth: changes.withoutTruth.length,
        }
      : {}),
  };
}
