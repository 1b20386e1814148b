import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { DeskContext } from '../DeskContext.ts';
import { equalTexts, sessionCookie } from '../guard/guardRequests.ts';
import { HttpProblem } from '../problemOf.ts';

/** The page shows the token of the address it was opened with, once; then the browser keeps it where no script reads it. */
export function sessionRoutes({ guard }: DeskContext): FastifyPluginAsyncZod {
  return async (app) => {
    app.post(
      '/api/session',
      {
        schema: {
          summary: 'Begin a session with the token that the command printed; sets a cookie',
          tags: ['session'],
          body: z.object({ key: z.string().min(1).max(500) }),
          response: { 200: z.object({ mayWrite: z.literal(true) }) },
        },
      },
      async (request, reply) => {
        if (!equalTexts(request.body.key, guard.token))
          throw new HttpProblem({
            type: 'token-needed',
            title: 'Not the token of this start',
            status: 401,
            detail: 'Every start of the command makes a new one: open the address that it printed last.',
          });
        reply.header('set-cookie', sessionCookie(guard)).header('cache-control', 'no-store');
        return { mayWrite: true as const };
      },
    );
  };
}
