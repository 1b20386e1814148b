import { basename } from 'node:path';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { SOFTWARE } from '../../jobs/software.ts';
import { answeredUnchanged, sendJson } from '../answerTagged.ts';
import { type CampaignAnswer, campaignAnswer, trajectoryAnswer } from '../api/campaign.ts';
import { findingsAnswer, sightingsAnswer } from '../api/findings.ts';
import { lineAnswer } from '../api/line.ts';
import type { CampaignView } from '../CampaignView.ts';
import type { DeskContext } from '../DeskContext.ts';
import { findingRowsOf, mergedRowsOf } from '../findingAnswerOf.ts';
import { maySpeak } from '../guard/guardRequests.ts';
import { lineAnswerOf } from '../lineAnswerOf.ts';
import { sightingsAnswerOf } from '../sightingsAnswerOf.ts';
import { trajectoryAnswerOf } from '../trajectoryAnswerOf.ts';

/** What the campaign holds, for reading. Answers are made once for a revision. */
export function campaignRoutes({ campaign, flights, options, guard }: DeskContext): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/api/campaign',
      { schema: { summary: 'Name, revision, flights, counts', tags: ['campaign'], response: { 200: campaignAnswer } } },
      async (request, reply) => {
        const view = campaign.now();
        const mayWrite = maySpeak(request, guard);
        if (answeredUnchanged(request, reply, 'campaign', view.revision, String(mayWrite))) return reply;
        return { ...aboutOf(view), mayWrite, tiles: tilesOf(options.tilesFile) };
      },
    );

    const aboutOf = (view: CampaignView): Omit<CampaignAnswer, 'mayWrite' | 'tiles'> => {
      const { about, line } = view;
      const states = [...view.coverage.values()].map(({ state }) => state);
      const count = (state: string): number => states.filter((one) => one === state).length;
      const wires = line.components.filter(({ kind }) => kind === 'conductor' || kind === 'earth wire').length;
      return {
        name: about.name,
        revision: view.revision,
        software: SOFTWARE,
        line: { name: line.name, owner: line.owner, voltageKv: line.voltageKv, hash: about.lineHash },
        originLlh: [...about.originLlh] as [number, number, number],
        coordinateSystem: { geodetic: 'EPSG:4979', local: 'east-north-up at originLlh, metres' },
        counts: {
          structures: line.structures.length,
          components: line.components.length - wires,
          conductors: wires,
          findings: view.findings.length,
          openFindings: view.findings.filter(({ decision }) => decision === 'open').length,
          discharges: view.discharges.size,
          sightings: view.sightingCounts.all,
          suspectSightings: view.sightingCounts.suspect,
          coverage: {
            finding: count('finding'),
            clear: count('clear'),
            notSeen: line.components.length - count('finding') - count('clear'),
          },
        },
        flights: view.flights.map((flight) => ({
          name: flight.name,
          startUtc: flight.startUtc,
          endUtc: flight.endUtc,
          rigId: flight.rigId,
          conditions: { ...flight.conditions },
          uvFrames: flight.uvFrames,
          colourFrames: flight.colourFrames,
          photonEvents: flight.photonEvents,
          leftOut: { ...flight.leftOut },
          falseAlarmsPerHourAsked: flight.falseAlarmsPerHourAsked,
          quality: { ...flight.quality },
          provenance: { ...flight.provenance },
          hasRecording: flights.has(flight.name),
          hasEvents: campaign.eventsFileOf(flight.name) !== null,
        })),
        furtherRecordings: flights.names.filter((name) => !view.flights.some((flight) => flight.name === name)),
      };
    };

    app.get(
      '/api/line',
      {
        schema: {
          summary: 'Structures, components and conductors, each with what was seen of it',
          tags: ['campaign'],
          response: { 200: lineAnswer },
        },
      },
      async (request, reply) => {
        const view = campaign.now();
        if (answeredUnchanged(request, reply, 'line', view.revision)) return reply;
        return sendJson(
          reply,
          view.once('line answer', () => JSON.stringify(lineAnswerOf(view))),
        );
      },
    );

    app.get(
      '/api/flights/:flight/trajectory',
      {
        schema: {
          summary: 'The track of a flight, decimated',
          tags: ['flights'],
          params: z.object({ flight: z.string().min(1).max(200) }),
          response: { 200: trajectoryAnswer },
        },
      },
      async (request, reply) => {
        const view = campaign.now();
        const { flight } = request.params;
        const recording = flights.has(flight) ? await flights.flight(flight) : null;
        if (answeredUnchanged(request, reply, 'track', view.revision, flight)) return reply;
        const answer = view.once(`track of ${flight}`, () =>
          JSON.stringify(trajectoryAnswerOf(view, flight, recording)),
        );
        return sendJson(reply, answer);
      },
    );

    app.get(
      '/api/findings',
      { schema: { summary: 'All findings as rows', tags: ['findings'], response: { 200: findingsAnswer } } },
      async (request, reply) => {
        const view = campaign.now();
        if (answeredUnchanged(request, reply, 'findings', view.revision)) return reply;
        const answer = view.once('findings answer', () =>
          JSON.stringify({ revision: view.revision, findings: findingRowsOf(view), merged: mergedRowsOf(view) }),
        );
        return sendJson(reply, answer);
      },
    );

    app.get(
      '/api/sightings',
      {
        schema: {
          summary: 'All sightings, believed or not, column by column',
          tags: ['findings'],
          response: { 200: sightingsAnswer },
        },
      },
      async (request, reply) => {
        const view = campaign.now();
        if (answeredUnchanged(request, reply, 'sightings', view.revision)) return reply;
        return sendJson(
          reply,
          view.once('sightings answer', () => JSON.stringify(sightingsAnswerOf(view))),
        );
      },
    );
  };
}

/** The one tile file that was named, under a name without its path. */
export const tilesOf = (file: string | null): string | null =>
  file === null ? null : `/api/tiles/${encodeURIComponent(basename(file))}`;
