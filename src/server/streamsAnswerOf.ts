import { NOT_A_PHOTON } from '../photon/PhotonEvents.ts';
import type { PhotonEventColumns } from '../recording/photonEventTable.ts';
import { streamHealth } from '../time/streamHealth.ts';
import { trackFindings } from '../trajectory/trackFindings.ts';
import type { StreamsAnswer } from './api/flights.ts';
import { binCounts, binOf, binSeries, type TimeBins } from './binSeries.ts';
import type { CampaignView } from './CampaignView.ts';
import type { OpenRecording } from './OpenRecording.ts';

export interface StreamsSpan {
  readonly fromNs: number | null;
  readonly toNs: number | null;
  readonly bins: number;
}

type Health = StreamsAnswer['health']['uv'];

/** What a flight's streams were like, over a stretch of it in equal bins: from an hour down to single frames. */
export async function streamsAnswerOf(
  name: string,
  recording: OpenRecording,
  view: CampaignView,
  events: PhotonEventColumns | null,
  span: StreamsSpan,
): Promise<StreamsAnswer> {
  const { uvIndex, colourIndex, trajectory, description } = recording;
  const uvNs = uvIndex.map(({ tNs }) => tNs);
  const colourNs = colourIndex.map(({ tNs }) => tNs);
  const poseNs = trajectory.tNs;
  const wholeFromNs = Math.min(uvNs[0], colourNs[0] ?? uvNs[0]);
  const wholeToNs = Math.max(uvNs[uvNs.length - 1], colourNs[colourNs.length - 1] ?? 0);
  const fromNs = Math.max(wholeFromNs, span.fromNs ?? wholeFromNs);
  const toNs = Math.max(fromNs + 1, Math.min(wholeToNs, span.toNs ?? wholeToNs));
  const bins: TimeBins = { fromNs, toNs, count: span.bins };
  const widthNs = (toNs - fromNs) / span.bins;
  const interval = (tNs: ArrayLike<number>) => (row: number) =>
    row === 0 ? Number.NaN : (tNs[row] - tNs[row - 1]) / 1e6;
  const track = recording.track(view.frame);
  const { sigma } = trajectory;
  const speedMps = (row: number): number =>
    Math.hypot(track.velocityEnuMps[3 * row], track.velocityEnuMps[3 * row + 1], track.velocityEnuMps[3 * row + 2]);
  const turnDegps = (row: number): number => {
    if (row === 0) return Number.NaN;
    const turned = ((trajectory.headingDeg[row] - trajectory.headingDeg[row - 1] + 540) % 360) - 180;
    return (turned * 1e9) / (poseNs[row] - poseNs[row - 1]);
  };
  const ledger = await recording.ledger();
  return {
    flight: name,
    epochUtc: description.epoch.utc,
    timeScale: description.epoch.scale,
    wholeFromNs,
    wholeToNs,
    fromNs,
    toNs,
    bins: span.bins,
    tNs: Array.from({ length: span.bins }, (_, bin) => fromNs + (bin + 0.5) * widthNs),
    singleFrames: widthNs <= 1e9 / description.streams.uv.frameRateHz,
    uv: {
      intervalMs: binSeries(bins, uvNs, interval(uvNs)),
      exposureMs: binSeries(bins, uvNs, (row) => uvIndex[row].exposureNs / 1e6),
      gain: binSeries(bins, uvNs, (row) => uvIndex[row].gain),
      frames: binCounts(bins, uvNs),
      ...eventSeries(bins, widthNs, events),
    },
    colour: {
      intervalMs: binSeries(bins, colourNs, interval(colourNs)),
      exposureMs: binSeries(bins, colourNs, (row) => colourIndex[row].exposureNs / 1e6),
      frames: binCounts(bins, colourNs),
    },
    synchronisationMs: binSeries(bins, colourNs, nearestGapMs(colourNs, uvNs)),
    trajectory: {
      intervalMs: binSeries(bins, poseNs, interval(poseNs)),
      heightM: binSeries(bins, poseNs, (row) => trajectory.heightM[row]),
      speedMps: binSeries(bins, poseNs, speedMps),
      rollDeg: binSeries(bins, poseNs, (row) => trajectory.rollDeg[row]),
      pitchDeg: binSeries(bins, poseNs, (row) => trajectory.pitchDeg[row]),
      headingDeg: binSeries(bins, poseNs, (row) => trajectory.headingDeg[row]),
      turnDegps: binSeries(bins, poseNs, turnDegps),
      horizontalSigmaM: sigma && binSeries(bins, poseNs, (row) => Math.hypot(sigma.northM[row], sigma.eastM[row])),
      verticalSigmaM: sigma && binSeries(bins, poseNs, (row) => sigma.downM[row]),
      headingSigmaDeg: sigma && binSeries(bins, poseNs, (row) => sigma.headingDeg[row]),
    },
    health: {
      uv: healthOf(uvNs, description.streams.uv.frameRateHz),
      colour: healthOf(colourNs, description.streams.colour.frameRateHz),
      trajectory: healthOf(poseNs, 1e9 / track.periodNs),
    },
    findings: trackFindings(track).map((one) => ({
      kind: one.name,
      weight: one.weight,
      fromNs: one.fromNs,
      toNs: one.toNs,
      text: one.detail,
    })),
    fates: ledger && fatesOf(bins, ledger.fates),
    notes: [...(ledger?.notes ?? []), ...recording.notes.map((text) => ({ tNs: null, text }))],
  };
}

function eventSeries(
  bins: TimeBins,
  widthNs: number,
  events: PhotonEventColumns | null,
): Pick<StreamsAnswer['uv'], 'eventsPerS' | 'notPhotonsPerS' | 'chargeDn'> {
  if (events === null) return { eventsPerS: null, notPhotonsPerS: null, chargeDn: null };
  const tNs = events.tNs.subarray(0, events.count);
  const isPhoton = (row: number): boolean => (events.flags[row] & NOT_A_PHOTON) === 0;
  const perS = (counts: number[]): number[] => counts.map((n) => (n * 1e9) / widthNs);
  return {
    eventsPerS: perS(binCounts(bins, tNs, isPhoton)),
    notPhotonsPerS: perS(binCounts(bins, tNs, (row) => !isPhoton(row))),
    chargeDn: binSeries(bins, tNs, (row) => (isPhoton(row) ? events.charge[row] : Number.NaN)).mean,
  };
}

/** From each stamp to the nearest of another stream; both rise. */
function nearestGapMs(tNs: readonly number[], others: readonly number[]): (row: number) => number {
  const gaps = new Float64Array(tNs.length).fill(Number.NaN);
  let k = 0;
  tNs.forEach((t, row) => {
    while (k + 1 < others.length && Math.abs(others[k + 1] - t) <= Math.abs(others[k] - t)) k++;
    if (others.length > 0) gaps[row] = (others[k] - t) / 1e6;
  });
  return (row) => gaps[row];
}

/** Largest gaps first, as many as anybody reads. */
const MOST_GAPS = 200;

function healthOf(tNs: ArrayLike<number>, nominalHz: number): Health {
  const health = streamHealth(tNs, nominalHz);
  const finite = (x: number): number => (Number.isFinite(x) ? x : 0);
  return {
    frames: tNs.length,
    fromNs: tNs[0] ?? 0,
    toNs: tNs[tNs.length - 1] ?? 0,
    nominalHz,
    measuredHz: finite(health.measuredRateHz),
    periodNs: finite(1e9 / health.measuredRateHz),
    jitterNs: health.jitterRmsNs,
    gaps: [...health.gaps]
      .sort((a, b) => b.missing - a.missing || a.fromNs - b.fromNs)
      .slice(0, MOST_GAPS)
      .map(({ afterRow, fromNs, toNs, missing }) => ({ afterFrame: afterRow, fromNs, toNs, framesMissing: missing })),
    framesMissing: health.missing,
  };
}

function fatesOf(
  bins: TimeBins,
  fates: readonly { readonly stream: 'uv' | 'colour'; readonly tNs: number; readonly fate: string }[],
): NonNullable<StreamsAnswer['fates']> {
  const whole = { uv: {} as Record<string, number>, colour: {} as Record<string, number> };
  const byBin = { uv: {} as Record<string, number[]>, colour: {} as Record<string, number[]> };
  for (const { stream, tNs, fate } of fates) {
    whole[stream][fate] = (whole[stream][fate] ?? 0) + 1;
    if (tNs < bins.fromNs || tNs > bins.toNs) continue;
    byBin[stream][fate] ??= new Array<number>(bins.count).fill(0);
    byBin[stream][fate][binOf(bins, tNs)]++;
  }
  return { uv: whole.uv, colour: whole.colour, uvByBin: byBin.uv, colourByBin: byBin.colour };
}
