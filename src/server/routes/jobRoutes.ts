import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { job, jobRequest, jobsAnswer } from '../api/jobs.ts';
import type { DeskContext } from '../DeskContext.ts';
import { eventStream } from '../eventStream.ts';

const byId = z.object({ id: z.string().regex(/^[0-9a-f]{12}$/, 'the id of a job') });
const security = [{ token: [] }];

/** Long work: started, watched, stopped, gone on with. */
export function jobRoutes({ jobs, flights, benches, earlier, changes }: DeskContext): FastifyPluginAsyncZod {
  return async (app) => {
    const open = new Set<{ end(): void }>();
    app.addHook('preClose', async () => {
      for (const stream of open) stream.end();
    });
    app.get(
      '/api/jobs',
      { schema: { summary: 'All jobs, the newest first', tags: ['jobs'], response: { 200: jobsAnswer } } },
      async (_request, reply) => {
        reply.header('cache-control', 'no-store');
        return {
          jobs: jobs.list(),
          flights: flights.names,
          benches: benches.names,
          earlierCampaigns: [...earlier.keys()],
        };
      },
    );
    app.post(
      '/api/jobs',
      {
        schema: {
          summary: 'Start a job; it waits until those before it have ended',
          tags: ['jobs'],
          security,
          body: jobRequest,
          response: { 201: job },
        },
      },
      async (request, reply) => reply.code(201).send(jobs.start(request.body)),
    );
    app.get(
      '/api/jobs/:id',
      { schema: { summary: 'One job', tags: ['jobs'], params: byId, response: { 200: job } } },
      async (request, reply) => {
        reply.header('cache-control', 'no-store');
        return jobs.get(request.params.id);
      },
    );
    app.post(
      '/api/jobs/:id/resume',
      {
        schema: {
          summary: 'Go on with a job that was cancelled, interrupted or failed',
          tags: ['jobs'],
          security,
          params: byId,
          response: { 200: job },
        },
      },
      async (request) => jobs.resume(request.params.id),
    );
    app.delete(
      '/api/jobs/:id',
      {
        schema: {
          summary: 'Stop a job where it can go on later; forget one that has ended',
          tags: ['jobs'],
          security,
          params: byId,
          response: { 200: job },
        },
      },
      async (request) => jobs.cancel(request.params.id),
    );
    app.get(
      '/api/jobs/:id/events',
      {
        schema: {
          summary: 'Server-sent events of one job, from as it is now to its end',
          tags: ['jobs'],
          params: byId,
          produces: ['text/event-stream'],
        },
      },
      async (request, reply) => {
        const { id } = request.params;
        const now = jobs.get(id);
        const ended = ({ state }: { state: string }): boolean => state !== 'running' && state !== 'waiting';
        const stream = eventStream(reply, () => {
          stop();
          open.delete(stream);
        });
        open.add(stream);
        const stop = changes.listen(({ event, data }) => {
          if (event !== 'job' || data.id !== id) return;
          stream.send('job', data);
          if (ended(data)) stream.end();
        });
        stream.send('job', now);
        if (ended(now)) stream.end();
      },
    );
  };
}
