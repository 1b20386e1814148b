import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import type { DeskContext } from '../DeskContext.ts';
import { eventStream } from '../eventStream.ts';

/** What changes, as it changes. */
export function changeRoutes({ campaign, changes }: DeskContext): FastifyPluginAsyncZod {
  return async (app) => {
    const open = new Set<{ end(): void }>();
    app.addHook('preClose', async () => {
      for (const stream of open) stream.end();
    });
    app.get(
      '/api/changes',
      {
        schema: {
          summary: 'Server-sent events: revision (the campaign changed), job (a job moved on)',
          tags: ['changes'],
          produces: ['text/event-stream'],
        },
      },
      async (_request, reply) => {
        const stream = eventStream(reply, () => {
          stop();
          open.delete(stream);
        });
        open.add(stream);
        const stop = changes.listen(({ event, data }) => stream.send(event, data));
        stream.send('revision', { revision: campaign.store.revision() });
      },
    );
  };
}
