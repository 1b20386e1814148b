import { distance } from '../../maths/vec3.ts';
import type { Reason } from '../Reason.ts';
import type { ComparedCampaign, ComparedFinding } from './ComparedFinding.ts';
import { chanceOfMissing } from './chanceOfMissing.ts';
import type { ChangeParameters } from './changeParameters.ts';
import { adjustedProbabilities } from './falseDiscovery.ts';
import { type FindingPair, matchFindings } from './matchFindings.ts';
import { type RateChange, rateChange } from './rateChange.ts';

/** All that can be told of a finding that another campaign is compared with. */
export const CHANGE_KINDS = ['new', 'grown', 'unchanged', 'faded', 'gone', 'not comparable'] as const;

/** What became of one finding. */
export interface ToldChange {
  readonly earlierId: string | null;
  readonly laterId: string | null;
  readonly change: (typeof CHANGE_KINDS)[number];
  readonly because: Reason;
  readonly rate: RateChange | null;
  readonly pair: Pick<FindingPair, 'squaredDistance' | 'gateTail' | 'sharedComponent'> | null;
  /** Of seeing this if nothing had changed, and the same adjusted for how many were looked at; null where nothing was tested. */
  readonly probability: number | null;
  readonly adjustedProbability: number | null;
}

/** A verdict that waits for the adjusted probability. */
interface Tested {
  readonly told: Omit<ToldChange, 'change' | 'because' | 'adjustedProbability'>;
  readonly whenSignificant: readonly [ToldChange['change'], Reason];
  readonly otherwise: readonly [ToldChange['change'], Reason];
}

/**
 * What became of each finding of either campaign: new, gone, grown, faded, unchanged, or not comparable and why. What only one
 * campaign has is told by the other's limit of detection at that component: not seen is not gone. Findings rejected in review
 * are matched, so that they do not come back as new, but not judged; alone they are left out.
 */
export function tellChanges(
  earlier: ComparedCampaign,
  later: ComparedCampaign,
  parameters: ChangeParameters,
): ToldChange[] {
  const pairs = matchFindings(earlier.findings, later.findings, parameters);
  const matchedEarlier = new Set(pairs.map((pair) => pair.earlier));
  const matchedLater = new Set(pairs.map((pair) => pair.later));
  const open: (Tested | ToldChange)[] = [
    ...pairs.map((pair) => onPair(earlier.findings[pair.earlier], later.findings[pair.later], pair, parameters)),
    ...later.findings
      .filter((finding, i) => !matchedLater.has(i) && !finding.rejected)
      .map((finding) => alone(finding, earlier, 'then', parameters)),
    ...earlier.findings
      .filter((finding, i) => !matchedEarlier.has(i) && !finding.rejected)
      .map((finding) => alone(finding, later, 'now', parameters)),
  ];
  const tested = open.filter((one): one is Tested => 'told' in one);
  const adjusted = adjustedProbabilities(tested.map(({ told }) => told.probability ?? 1));
  const adjustedOf = new Map(tested.map((one, i) => [one, adjusted[i]]));
  return open.map((one) => {
    if (!('told' in one)) return one;
    const adjustedProbability = adjustedOf.get(one) ?? 1;
    const [change, because] =
      adjustedProbability <= parameters.falseDiscoveryRate ? one.whenSignificant : one.otherwise;
    return { ...one.told, change, because, adjustedProbability };
  });
}

const notComparable = (because: Reason) => ['not comparable', because] as const;

function onPair(
  then: ComparedFinding,
  now: ComparedFinding,
  { squaredDistance, gateTail, sharedComponent }: FindingPair,
  parameters: ChangeParameters,
): Tested | ToldChange {
  const rate = rateChange(then.rate, now.rate, then.rigHash === now.rigHash, parameters);
  const told = {
    earlierId: then.id,
    laterId: now.id,
    rate,
    pair: { squaredDistance, gateTail, sharedComponent },
    probability: rate.probability,
  };
  const because = whyNot(then, now);
  if (because) return { ...told, change: 'not comparable', because, probability: null, adjustedProbability: null };
  const values = { ratio: rate.ratio, lower: rate.lower, upper: rate.upper, probability: rate.probability };
  const grown = rate.ratio > 1;
  const known = rate.lower > 1 / parameters.tellableFactor && rate.upper < parameters.tellableFactor;
  return {
    told,
    whenSignificant: grown ? ['grown', { key: 'grown', values }] : ['faded', { key: 'faded', values }],
    otherwise: known ? ['unchanged', { key: 'unchanged', values }] : notComparable({ key: 'too uncertain', values }),
  };
}

function whyNot(then: ComparedFinding, now: ComparedFinding): Reason | null {
  if (then.rejected || now.rejected) return { key: 'rejected in review', values: {} };
  if (then.rate.bandNm.join() !== now.rate.bandNm.join())
    return {
      key: 'other band',
      values: { bandThen: then.rate.bandNm.join(' to '), bandNow: now.rate.bandNm.join(' to ') },
    };
  if ((then.weather === 'dry') !== (now.weather === 'dry'))
    return { key: 'other weather', values: { weatherThen: then.weather, weatherNow: now.weather } };
  return null;
}

/** A finding that the other campaign lacks. @param other 'then' where the other is the earlier one */
function alone(
  finding: ComparedFinding,
  campaign: ComparedCampaign,
  other: 'then' | 'now',
  parameters: ChangeParameters,
): Tested | ToldChange {
  const told = {
    earlierId: other === 'now' ? finding.id : null,
    laterId: other === 'then' ? finding.id : null,
    rate: null,
    pair: null,
    probability: null,
  };
  const untold = (because: Reason): ToldChange => ({
    ...told,
    change: 'not comparable',
    because,
    adjustedProbability: null,
  });
  const near = campaign.keptOut
    .map(({ positionEnuM, because }) => ({ because, distance: distance(positionEnuM, finding.positionEnuM) }))
    .filter((one) => one.distance <= parameters.keptOutWithinM)
    .sort((a, b) => a.distance - b.distance)[0];
  if (near) return untold({ key: `kept out ${other}`, values: near });
  const limit = campaign.limitAt(finding.componentId);
  if (limit.kind === 'not seen') return untold({ key: `not seen ${other}`, values: {} });
  if (limit.kind === 'unknown') return untold({ key: `coverage unknown ${other}`, values: {} });
  if ((finding.weather === 'dry') !== (campaign.weather === 'dry'))
    return untold({
      key: 'other weather',
      values:
        other === 'now'
          ? { weatherThen: finding.weather, weatherNow: campaign.weather }
          : { weatherThen: campaign.weather, weatherNow: finding.weather },
    });
  const probability = chanceOfMissing(finding.rate, limit.limitHz, parameters);
  const values = { limit: limit.limitHz, probability };
  return {
    told: { ...told, probability },
    whenSignificant: other === 'then' ? ['new', { key: 'new', values }] : ['gone', { key: 'gone', values }],
    otherwise: notComparable({ key: `too weak for ${other}`, values }),
  };
}
