import { readFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { answeredUnchanged } from '../answerTagged.ts';
import { benchAnswer } from '../api/bench.ts';
import { benchAnswerOf } from '../benchAnswerOf.ts';
import type { DeskContext } from '../DeskContext.ts';
import { notFound } from '../problemOf.ts';

/** How well the camera pair is registered, and its certificate. */
export function benchRoutes({ rigs }: DeskContext): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/api/bench',
      {
        schema: {
          summary:
            'The registration in use: ladder, residuals, support, range behaviour, comparison with the one before',
          tags: ['registration'],
          response: { 200: benchAnswer },
        },
      },
      async (request, reply) => {
        const hashes = rigs.registrations.map(({ registration }) => registration.hash);
        if (answeredUnchanged(request, reply, 'bench', ...hashes)) return reply;
        return benchAnswerOf(rigs);
      },
    );
    app.get(
      '/api/bench/certificate',
      { schema: { summary: 'The certificate of the bench run (HTML in one file)', tags: ['registration'] } },
      async (_request, reply) => {
        const current = rigs.registrations.find(({ which }) => which === 'current');
        const file = current?.file ? join(dirname(current.file), 'certificate.html') : null;
        const html = file === null ? null : await readFile(file).catch(() => null);
        if (html === null) throw notFound('There is no certificate beside the registration.', 'Run the bench again.');
        return (
          reply
            // One file with its styles inside, of our own making, and no scripts: it may have those styles.
            .header(
              'content-security-policy',
              "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'",
            )
            .header('x-frame-options', 'SAMEORIGIN')
            .header('content-type', 'text/html; charset=utf-8')
            .send(html)
        );
      },
    );
  };
}
