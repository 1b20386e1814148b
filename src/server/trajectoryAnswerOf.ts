import type { Llh } from '../earth/Llh.ts';
import type { TrajectoryAnswer } from './api/campaign.ts';
import type { CampaignView } from './CampaignView.ts';
import type { OpenRecording } from './OpenRecording.ts';
import { notFound } from './problemOf.ts';

/** Enough for a map on any screen. */
const MOST_POINTS = 4000;

/** The track of a flight: from its recording with times, or without one the track that the campaign keeps. */
export function trajectoryAnswerOf(
  view: CampaignView,
  name: string,
  recording: OpenRecording | null,
): TrajectoryAnswer {
  const kept = view.flights.find((flight) => flight.name === name);
  if (recording === null && kept === undefined) throw notFound(`The campaign has no flight '${name}'.`);
  const whole = recording?.trajectory.tNs.length ?? kept!.trackLlh.length;
  const step = Math.max(1, Math.ceil(whole / MOST_POINTS));
  const rows = Array.from({ length: Math.ceil(whole / step) }, (_, i) => i * step);
  if (whole > 0 && rows[rows.length - 1] !== whole - 1) rows.push(whole - 1);
  const placesLlh = rows.map((row): Llh => {
    if (recording === null) return kept!.trackLlh[row];
    const { lonDeg, latDeg, heightM } = recording.trajectory;
    return [lonDeg[row], latDeg[row], heightM[row]];
  });
  const placesEnuM = placesLlh.map((place) => view.frame.enuFromLlh(place));
  return {
    flight: name,
    count: rows.length,
    tNs: recording === null ? null : rows.map((row) => recording.trajectory.tNs[row]),
    lonDeg: placesLlh.map(([lon]) => lon),
    latDeg: placesLlh.map(([, lat]) => lat),
    heightM: placesLlh.map(([, , height]) => height),
    eastM: placesEnuM.map(([east]) => east),
    northM: placesEnuM.map(([, north]) => north),
    upM: placesEnuM.map(([, , up]) => up),
    alongM: placesEnuM.map((place) => view.along?.(place).alongM ?? null),
  };
}
