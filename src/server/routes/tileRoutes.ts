import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { basename } from 'node:path';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { DeskContext } from '../DeskContext.ts';
import { notFound } from '../problemOf.ts';

/** The one tile file that was named, in the parts that the map asks for. */
export function tileRoutes({ options }: DeskContext): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/api/tiles/:name',
      {
        schema: {
          summary: 'The local tile file (PMTiles), by ranges of bytes',
          tags: ['campaign'],
          params: z.object({ name: z.string().min(1).max(255) }),
        },
      },
      async (request, reply) => {
        const file = options.tilesFile;
        if (file === null || request.params.name !== basename(file))
          throw notFound('The server was not given that tile file.', 'Start the desk with --tiles.');
        const { size } = await stat(file);
        const range = /^bytes=(\d+)-(\d*)$/.exec(request.headers.range ?? '');
        const from = range ? Number(range[1]) : 0;
        const to = range?.[2] ? Math.min(Number(range[2]), size - 1) : size - 1;
        reply.headers({ 'accept-ranges': 'bytes', 'content-type': 'application/octet-stream' });
        if (from > to) return reply.code(416).header('content-range', `bytes */${size}`).send();
        reply.header('content-length', String(to - from + 1));
        if (range) reply.code(206).header('content-range', `bytes ${from}-${to}/${size}`);
        return reply.send(createReadStream(file, { start: from, end: to }));
      },
    );
  };
}
