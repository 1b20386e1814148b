import type { InspectionResult } from '../../campaign/CampaignStore.ts';
import type {
  CoverageRecord,
  DischargeRecord,
  EvidenceRecord,
  FindingRecord,
  Llh,
  SightingRecord,
} from '../../campaign/records.ts';
import { ultravioletExtinction } from '../../earth/ultravioletExtinction.ts';
import { eventsPerPhotonAt, type RateConditions } from '../../grade/estimatePhotonRate.ts';
import { lineAgainstTrack } from '../../line/lineAgainstTrack.ts';
import type { Vec3 } from '../../maths/vec3.ts';
import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import type { PhotonFinderStatistics } from '../../photon/photonFinder.ts';
import { coverComponents, toFlyAgain } from '../../place/coverComponents.ts';
import type { Gathering } from '../../place/Discharge.ts';
import type { Mounting } from '../../rig/Mounting.ts';
import type { EventRays, FramePoses } from '../../sighting/EventRays.ts';
import type { SightingReport } from '../../sighting/findSightings.ts';
import { framePoses } from '../../sighting/framePoses.ts';
import { glowTracks } from '../../sighting/glowTracks.ts';
import { shareOfDarkPasses } from '../../sighting/halfWave.ts';
import { GAP_FRAMES } from '../../sighting/pointSource.ts';
import type { Sighting } from '../../sighting/Sighting.ts';
import { shareNearSun } from '../../sighting/sunNearView.ts';
import { streamHealth } from '../../time/streamHealth.ts';
import { utcFromStamp } from '../../time/utcFromStamp.ts';
import type { Track } from '../../trajectory/Track.ts';
import { trackFindings } from '../../trajectory/trackFindings.ts';
import type { JobWatch } from '../JobWatch.ts';
import { flightSlips } from '../slips/flightSlips.ts';
import { eventsByFrame } from './countSource.ts';
import { dischargeRecord, stretchesOfDischarges } from './dischargeRecord.ts';
import { eventsByFramesInView, MOST_DARK, USUAL_FRAMES_IN_VIEW } from './eventsForDetection.ts';
import { findingRecord } from './findingRecord.ts';
import type { InspectOptions } from './InspectOptions.ts';
import { mountingCorrectionText } from './mountingCorrectionText.ts';
import type { Inspection } from './openInspection.ts';
import { PARAMETERS } from './parameters.ts';
import { meanFoundShare, type SingleEvents } from './singleEvents.ts';
import { sunOverFlight } from './sunOverFlight.ts';
import { takeEvidence } from './takeEvidence.ts';

/** Everything that was worked out of a flight, before it is put into records. */
export interface Findings {
  readonly inspection: Inspection;
  readonly options: InspectOptions;
  readonly events: PhotonEvents;
  readonly finder: PhotonFinderStatistics | null;
  readonly track: Track;
  readonly mounting: Mounting;
  readonly poses: FramePoses;
  readonly rays: EventRays;
  /** Frames without a pose, by reason. */
  readonly refused: Readonly<Record<string, number>>;
  readonly report: SightingReport;
  readonly gathering: Gathering;
  /** Rows of `events` that belong to a sighting. */
  readonly explained: ReadonlySet<number>;
  readonly single: SingleEvents;
  readonly watch: JobWatch;
}

/** Puts what was found into the records of a campaign: rates, components, grades, evidence, coverage, quality. */
export async function composeResult(found: Findings): Promise<InspectionResult> {
  const { inspection, gathering, report } = found;
  const { flight, frame, provenance, options } = { ...inspection, options: found.options };
  const { description } = flight;
  const idOf = new Map(
    gathering.discharges.map((d, i) => [d.id, `${slug(description.name)}-d${String(i + 1).padStart(2, '0')}`]),
  );
  const sightingOf = new Map(report.sightings.map((s) => [s.id, s]));
  const byFrame = eventsByFrame(found.events, flight.uvIndex.length);
  const conditions = rateConditions(inspection, found.single);
  const backgroundPerPx = backgroundPerPixel(found);

  const discharges: DischargeRecord[] = [];
  const findings: FindingRecord[] = [];
  const evidence: EvidenceRecord[] = [];
  const ownerOf = ownersOfRays(found);
  const stretches = stretchesOfDischarges(found, sightingOf);
  const { poses: colourPoses } = framePoses(found.track, found.mounting, flight.colourIndex);
  for (const discharge of gathering.discharges) {
    const id = idOf.get(discharge.id) ?? discharge.id;
    const seen = discharge.sightingIds.flatMap((s) => sightingOf.get(s) ?? []);
    const record = dischargeRecord(id, discharge, stretches, found, byFrame, conditions, backgroundPerPx);
    if (!record) continue;
    discharges.push(record);
    findings.push(findingRecord(record, inspection, description.conditions));
    for (const sighting of seen) {
      const rangeSigmaM = Math.sqrt(
        Math.max(record.covarianceEnuM2[0], record.covarianceEnuM2[4], record.covarianceEnuM2[8]),
      );
      const picture = await takeEvidence(
        { flight, frame, registration: inspection.registration, rays: found.rays, colourPoses, ownerOf },
        id,
        // The poses are those of the mounting as stated.
        record.asMounted?.positionEnuM ?? record.positionEnuM,
        rangeSigmaM,
        sighting,
      );
      if (picture) evidence.push({ ...picture, ownFindingId: id });
    }
  }
  const placedIn = new Map(
    gathering.discharges.flatMap((d) => d.sightingIds.map((sighting) => [sighting, idOf.get(d.id) ?? null] as const)),
  );
  return {
    flight: {
      name: description.name,
      startUtc: utcFromStamp(description.epoch, flight.uvIndex[0].tNs),
      endUtc: utcFromStamp(description.epoch, flight.uvIndex[flight.uvIndex.length - 1].tNs),
      rigId: description.rigId,
      conditions: description.conditions,
      uvFrames: flight.uvIndex.length,
      colourFrames: flight.colourIndex.length,
      photonEvents: found.events.count,
      leftOut: Object.fromEntries(Object.entries(found.refused).map(([because, n]) => [`frames ${because}`, n])),
      trackLlh: trackLlh(found),
      falseAlarmsPerHourAsked: options.falseAlarmsPerHour,
      quality: quality(found),
      provenance,
    },
    sightings: report.sightings.map((s) => sightingRecord(s, found, placedIn.get(s.id) ?? null)),
    discharges,
    findings,
    evidence,
    coverage: coverage(found, findings, conditions, backgroundPerPx),
  };
}

/** Where the discharge lies that a ray belongs to, for the rays of placed sightings. */
function ownersOfRays({ gathering, report }: Findings): (row: number) => Vec3 | null {
  const placeOf = new Map(
    gathering.discharges.flatMap((d) => d.sightingIds.map((s) => [s, d.placement.positionEnuM] as const)),
  );
  const owner = new Map<number, Vec3>();
  for (const sighting of report.sightings) {
    const place = placeOf.get(sighting.id);
    if (!place) continue;
    sighting.rays.forEach((row, i) => {
      if (sighting.membership[i] > 0.5) owner.set(row, place);
    });
  }
  return (row) => owner.get(row) ?? null;
}

export const slug = (name: string): string =>
  name
    .toLowerCase()
    .replace(/[^\p{L}\p{N}]+/gu, '-')
    .replace(/^-|-$/g, '');

function rateConditions({ rig, flight }: Inspection, single: SingleEvents): Omit<RateConditions, 'rangeSigmaM'> {
  const { uv } = rig.cameras;
  const { conditions, streams } = flight.description;
  const extinction = ultravioletExtinction(conditions, uv.bandNm);
  return {
    apertureMm: uv.apertureMm,
    bandNm: uv.bandNm,
    eventsPerPhoton: uv.eventsPerPhoton,
    eventsPerPhotonRelativeSigma: PARAMETERS.efficiencyRelativeSigma,
    extinctionPerKm: extinction.perKm,
    extinctionSigmaPerKm: extinction.sigmaPerKm,
    singleChargeRelativeSigma: single.relativeSigma,
    mainsHz: conditions.mainsHz,
    frameRateHz: streams.uv.frameRateHz,
  };
}

/** Events a pixel and frame that no sighting explains. */
function backgroundPerPixel({ events, explained, inspection, poses }: Findings): number {
  const { widthPx, heightPx } = inspection.registration.model.uv;
  return (events.count - explained.size) / (widthPx * heightPx * Math.max(1, poses.count));
}

function sightingRecord(
  sighting: Sighting,
  { inspection, gathering }: Findings,
  dischargeId: string | null,
): SightingRecord {
  const { description } = inspection.flight;
  const refusal = gathering.unplaced.find((u) => u.sightingId === sighting.id)?.refusal;
  return {
    id: `${slug(description.name)}-${sighting.id}`,
    flight: description.name,
    dischargeId,
    fromUtc: utcFromStamp(description.epoch, sighting.fromNs),
    toUtc: utcFromStamp(description.epoch, sighting.toNs),
    framesInView: sighting.framesInView,
    events: sighting.membership.reduce((sum, p) => sum + p, 0),
    logLikelihoodRatio: sighting.logLikelihoodRatio,
    falseAlarmsPerHour: sighting.falseAlarmsPerHour,
    suspicions: sighting.suspicions,
    seedLlh: inspection.frame.llhFromEnu(sighting.seedEnuM),
    note: refusal ? `not placed: ${refusal.because}` : '',
  };
}

/** The way flown, a point a second. */
function trackLlh({ track, inspection }: Findings): Llh[] {
  const out: Llh[] = [];
  let nextNs = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < track.count; i++) {
    if (track.tNs[i] < nextNs && i !== track.count - 1) continue;
    nextNs = track.tNs[i] + 1e9;
    out.push([
      inspection.flight.trajectory.lonDeg[i],
      inspection.flight.trajectory.latDeg[i],
      inspection.flight.trajectory.heightM[i],
    ]);
  }
  return out;
}

function coverage(
  found: Findings,
  findings: readonly FindingRecord[],
  conditions: Omit<RateConditions, 'rangeSigmaM'>,
  backgroundPerPx: number,
): CoverageRecord[] {
  const { inspection, poses, report } = found;
  const { exposureNs } = inspection.flight.uvIndex[0];
  const finderEfficiency = meanFoundShare(found.single, found.events, (f) => inspection.flight.uvIndex[f].gain);
  const rangeRateAt = (rangeM: number): number => eventsPerPhotonAt(rangeM, conditions);
  const withFinding = new Set(findings.map((finding) => finding.componentId));
  return coverComponents(inspection.line, poses, inspection.registration.model.uv, {
    eventsPerPhotonAt: rangeRateAt,
    responseAt: inspection.pointResponse?.at,
    eventsNeeded: eventsByFramesInView({
      threshold: report.searched.threshold,
      backgroundPerPx,
      sigmaPx: inspection.rig.cameras.uv.blurSigmaPx,
      exposureS: exposureNs * 1e-9,
      frameRateHz: inspection.flight.description.streams.uv.frameRateHz,
      crossingPx: inspection.registration.model.uv.widthPx,
      finderEfficiency,
      mainsHz: inspection.flight.description.conditions.mainsHz,
    }),
    leastFrames: PARAMETERS.leastFrames,
    // Out of view for longer, a place is searched as a pass of its own.
    passGapS: GAP_FRAMES / inspection.flight.description.streams.uv.frameRateHz,
    nearestM: PARAMETERS.nearestM,
    farthestM: PARAMETERS.farthestM,
  }).map((c) => ({
    componentId: c.componentId,
    state: withFinding.has(c.componentId) ? 'finding' : c.state,
    framesInView: c.framesInView,
    nearestRangeM: c.nearestRangeM,
    limitHz: c.limitHz,
    view: {
      coveredShare: c.coveredShare,
      passes: c.passes,
      azimuthsDeg: c.viewAzimuthsDeg,
      elevationsDeg: c.viewElevationsDeg,
      farthestRangeM: c.farthestRangeM,
      exposureS: c.exposureS,
      smearPx: c.smearPx,
      hiddenShare: c.hiddenShare,
      hiddenBy: c.hiddenBy,
      flyAgain: withFinding.has(c.componentId) ? null : (toFlyAgain([c], Number.POSITIVE_INFINITY)[0]?.because ?? null),
    },
  }));
}

function flatFieldInWords({ pointResponse }: Inspection): string {
  if (!pointResponse) return 'not measured: the camera is taken to see alike all over its picture';
  const percent = (x: number): string => `${(100 * x).toFixed(0)} %`;
  return `measured: a point of light gives ${percent(pointResponse.least)} to ${percent(pointResponse.greatest)} of the mean over the picture; rates and limits are corrected for it`;
}

/** Figures and remarks by which an engineer judges whether the flight was sound. */
function quality(found: Findings): Record<string, string | number> {
  const { inspection, finder, report, single, track } = found;
  const { flight, registration } = inspection;
  const uv = streamHealth(
    flight.uvIndex.map((entry) => entry.tNs),
    flight.description.streams.uv.frameRateHz,
  );
  const colour = streamHealth(
    flight.colourIndex.map((entry) => entry.tNs),
    flight.description.streams.colour.frameRateHz,
  );
  const remarks = [
    ...trackFindings(track),
    ...lineAgainstTrack(inspection.line, track),
    ...flightSlips({
      glows: glowTracks(found.events),
      sightings: report.sightings,
      track,
      mounting: found.mounting,
      lens: registration.model.uv,
      line: inspection.line,
      unixS: Date.parse(flight.description.epoch.utc) / 1000,
    }),
  ];
  for (const remark of remarks)
    if (remark.weight !== 'note') found.watch.note(`${remark.weight}: ${remark.name}. ${remark.detail}`);
  const dark = shareOfDarkPasses({
    mainsHz: flight.description.conditions.mainsHz,
    exposureS: flight.uvIndex[0].exposureNs * 1e-9,
    frameRateHz: flight.description.streams.uv.frameRateHz,
    frames: USUAL_FRAMES_IN_VIEW,
  });
  if (dark > MOST_DARK)
    found.watch.note(
      `Exposures in step with the mains: light on one half-wave alone may stay unseen in ${Math.round(100 * dark)} % of the passes; limits are those of steady light.`,
    );
  const nearSun = shareNearSun(found.poses, registration.model.uv, sunOverFlight(flight, inspection.frame));
  if (nearSun > 0)
    found.watch.note(
      `The sun stood in the ultraviolet picture or within ten degrees of it in ${(100 * nearSun).toFixed(1)} % of the frames.`,
    );
  return {
    uvFramesMissing: uv.missing,
    uvLargestGapMs: uv.largestGapNs * 1e-6,
    uvJitterMs: uv.jitterRmsNs * 1e-6,
    colourFramesMissing: colour.missing,
    trajectory:
      remarks.length === 0 ? 'no remarks' : remarks.map((r) => `${r.weight}: ${r.name} (${r.detail})`).join('; '),
    eventsPerFrame: found.events.count / flight.uvIndex.length,
    ...(finder
      ? { darkLevelDn: finder.meanDarkDn, darkNoiseDn: finder.meanNoiseDn, hotPixels: finder.hotPixels.length }
      : {}),
    singleEventChargeDn: single.meanCharge(flight.uvIndex[0].gain),
    singleEventsMeasured: single.count,
    detectionThresholdLogLikelihood: report.searched.threshold,
    darkPassesPct: 100 * dark,
    sunNearViewPct: 100 * nearSun,
    searchedMinutes: report.searched.hours * 60,
    mountingCorrection: mountingCorrectionText(found.gathering.correction),
    flatField: flatFieldInWords(inspection),
    registrationHeldOutRmsPx: registration.heldOutRmsPx,
    registration: inspection.registrationIsNominal ? 'nominal values, no bench run' : registration.hash.slice(0, 16),
  };
}
