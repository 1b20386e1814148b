import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { EvidenceRecord, SightingRecord } from '../../campaign/records.ts';
import { stampFromUtc } from '../../time/utcFromStamp.ts';
import { answeredUnchanged } from '../answerTagged.ts';
import { type EvidenceOfFinding, findingAnswer, type LastFinding, type SightingOfFinding } from '../api/findings.ts';
import type { CampaignView } from '../CampaignView.ts';
import type { DeskContext } from '../DeskContext.ts';
import { findingAnswerOf, sightingsByFinding } from '../findingAnswerOf.ts';
import type { OpenRecording } from '../OpenRecording.ts';
import { notFound } from '../problemOf.ts';
import { entriesAbout } from '../reviewAnswers.ts';

const findingId = z.object({ id: z.string().min(1).max(200) });

/** One finding with everything known of it, and its pictures. */
export function findingRoutes({ campaign, flights }: DeskContext): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/api/findings/:id',
      {
        schema: {
          summary: 'Everything known of one finding',
          tags: ['findings'],
          params: findingId,
          response: { 200: findingAnswer },
        },
      },
      async (request, reply) => {
        const view = campaign.now();
        const { id } = request.params;
        if (answeredUnchanged(request, reply, 'finding', view.revision, id)) return reply;
        const sightings = sightingsByFinding(view).get(id) ?? [];
        const opened = new Map<string, OpenRecording>();
        for (const name of new Set(sightings.map(({ flight }) => flight)))
          if (flights.has(name)) opened.set(name, await flights.flight(name));
        const answer = findingAnswerOf(view, id, {
          sightingList: sightings.map((one) => sightingAnswer(view, one, opened.get(one.flight) ?? null)),
          evidenceList: campaign.store
            .evidenceOf(id)
            .map((one, number) => evidenceAnswer(view, one, number, opened.get(one.flight) ?? null)),
          log: entriesAbout(campaign.store.acts(), id),
          last: lastFindingOf(view, id, campaign.store.earlierPictureOf(id)),
        });
        if (answer === null) throw notFound(`The campaign has no finding '${id}'.`);
        return answer;
      },
    );

    app.get(
      '/api/findings/:id/evidence/:number',
      {
        schema: {
          summary: 'A picture of a finding: the colour crop, JPEG',
          tags: ['findings'],
          params: findingId.extend({ number: z.coerce.number().int().min(0).max(9999) }),
        },
      },
      async (request, reply) => {
        const { id, number } = request.params;
        const picture = campaign.store.evidenceOf(id)[number];
        if (picture === undefined) throw notFound(`Finding '${id}' has no picture ${number}.`);
        if (answeredUnchanged(request, reply, 'evidence', campaign.store.revision(), id, String(number))) return reply;
        return reply.header('content-type', 'image/jpeg').send(Buffer.from(picture.colourJpeg));
      },
    );

    app.get(
      '/api/findings/:id/last-picture',
      {
        schema: {
          summary: 'The picture of what an earlier campaign had there: the colour crop, JPEG',
          tags: ['findings'],
          params: findingId,
        },
      },
      async (request, reply) => {
        const { id } = request.params;
        const picture = campaign.store.earlierPictureOf(id);
        if (picture === null) throw notFound(`Finding '${id}' has no picture of an earlier campaign.`);
        if (answeredUnchanged(request, reply, 'last picture', campaign.store.revision(), id)) return reply;
        return reply.header('content-type', 'image/jpeg').send(Buffer.from(picture.colourJpeg));
      },
    );
  };
}

const stamp = (flight: OpenRecording | null, utc: string): number | null =>
  flight === null ? null : stampFromUtc(flight.description.epoch, utc);

/** Places of the camera along a pass, enough to draw its rays. */
const VIEWPOINTS = 24;

function sightingAnswer(view: CampaignView, sighting: SightingRecord, flight: OpenRecording | null): SightingOfFinding {
  const fromNs = stamp(flight, sighting.fromUtc);
  const toNs = stamp(flight, sighting.toUtc);
  return {
    id: sighting.id,
    flight: sighting.flight,
    fromUtc: sighting.fromUtc,
    toUtc: sighting.toUtc,
    fromNs,
    toNs,
    framesInView: sighting.framesInView,
    events: sighting.events,
    logLikelihoodRatio: sighting.logLikelihoodRatio,
    falseAlarmsPerHour: sighting.falseAlarmsPerHour,
    suspicions: [...sighting.suspicions],
    seedLlh: [...sighting.seedLlh] as [number, number, number],
    seedEnuM: [...view.frame.enuFromLlh(sighting.seedLlh)] as [number, number, number],
    note: sighting.note,
    viewpointsEnuM: flight === null ? [] : viewpoints(view, flight, fromNs!, toNs!),
  };
}

/** Rows of the trajectory between two times, as they stand: the lever arm is below what a drawing shows. */
function viewpoints(view: CampaignView, flight: OpenRecording, fromNs: number, toNs: number): number[] {
  const { tNs, lonDeg, latDeg, heightM } = flight.trajectory;
  const first = tNs.findIndex((t) => t >= fromNs);
  if (first < 0) return [];
  let last = first;
  while (last + 1 < tNs.length && tNs[last + 1] <= toNs) last++;
  const step = Math.max(1, Math.ceil((last - first + 1) / VIEWPOINTS));
  const out: number[] = [];
  for (let row = first; row <= last; row += step)
    out.push(...view.frame.enuFromLlh([lonDeg[row], latDeg[row], heightM[row]]));
  return out;
}

function lastFindingOf(view: CampaignView, id: string, picture: EvidenceRecord | null): LastFinding | null {
  const change = view.changeOf.get(id);
  const before = change?.history[0];
  if (change === undefined || before === undefined) return null;
  const image = `/api/findings/${encodeURIComponent(id)}/last-picture`;
  return {
    campaign: before.campaign,
    id: before.id,
    seenUtc: before.seenUtc,
    change: change.change,
    rateHz: before.rate.rateHz,
    rateInterval: { ...before.rate.interval },
    evidenceList: picture === null ? [] : [evidenceAnswer(view, picture, 0, null, image)],
  };
}

function evidenceAnswer(
  view: CampaignView,
  evidence: EvidenceRecord,
  number: number,
  flight: OpenRecording | null,
  image = `/api/findings/${encodeURIComponent(evidence.findingId)}/evidence/${number}`,
): EvidenceOfFinding {
  return {
    number,
    image,
    flight: evidence.flight,
    utc: evidence.utc,
    tNs: stamp(flight, evidence.utc),
    colourFrame: evidence.colourFrame,
    rangeM: evidence.rangeM,
    cropLeftPx: evidence.cropLeftPx,
    cropTopPx: evidence.cropTopPx,
    cropWidthPx: evidence.cropWidthPx,
    cropHeightPx: evidence.cropHeightPx,
    eventsColourPx: [...evidence.eventsColourPx],
    dischargeColourPx: [...evidence.dischargeColourPx],
    overlaySigmaPx: evidence.overlaySigmaPx,
    colourFocalPx: evidence.colourFocalPx ?? null,
    accumulatedS: evidence.accumulatedS,
    cameraLlh: [...evidence.cameraLlh] as [number, number, number],
    cameraEnuM: [...view.frame.enuFromLlh(evidence.cameraLlh)] as [number, number, number],
    viewAzimuthDeg: evidence.viewAzimuthDeg,
    viewElevationDeg: evidence.viewElevationDeg,
  };
}
