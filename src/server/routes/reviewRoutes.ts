import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { RefusedReview } from '../../campaign/ReviewCommand.ts';
import { ownStacks } from '../../campaign/reviewLog.ts';
import { answeredUnchanged } from '../answerTagged.ts';
import { problem } from '../api/problem.ts';
import { reviewConflict, reviewDone, reviewLogAnswer, reviewRequest } from '../api/review.ts';
import type { DeskContext } from '../DeskContext.ts';
import { HttpProblem } from '../problemOf.ts';
import { entriesAbout, logEntriesOf, reviewConflictOf, reviewDoneOf } from '../reviewAnswers.ts';

/** What to do where a command cannot be done. */
const REMEDY: Readonly<Record<RefusedReview, string>> = {
  'no such finding': 'Load the findings again.',
  'no such component': 'Name a component of the line, or null for none of them.',
  'merged already': 'Act on the finding that it went into, or take the merging back first.',
  'merged with itself': 'Name different findings.',
  'not its sightings': 'Name sightings of that finding.',
  'nothing would be left': 'Leave at least one sighting with the finding.',
  'nothing to take back': 'Look at the log for what stands.',
  'no such act': 'Name the number of an act in the log.',
  'later acts rest on it': 'Take back the later acts first.',
};

/** Deciding, and the log of it. */
export function reviewRoutes({ campaign, changes }: DeskContext): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/api/review',
      {
        schema: {
          summary: 'The review log, which only grows',
          tags: ['review'],
          querystring: z.object({
            since: z.coerce.number().int().min(0).default(0),
            finding: z.string().min(1).max(200).optional(),
            by: z.string().min(1).max(100).optional(),
          }),
          response: { 200: reviewLogAnswer },
        },
      },
      async (request, reply) => {
        const { since, finding, by } = request.query;
        const { store } = campaign;
        const revision = store.revision();
        if (answeredUnchanged(request, reply, 'review', revision, String(since), finding ?? '', by ?? '')) return reply;
        const log = store.acts();
        const entries = finding === undefined ? logEntriesOf(log) : entriesAbout(log, finding);
        const stacks = by === undefined ? null : ownStacks(log, by);
        return {
          revision,
          entries: entries.filter(({ line }) => line > since),
          canUndo: stacks && stacks.toUndo.length > 0,
          canRedo: stacks && stacks.toRedo.length > 0,
        };
      },
    );

    app.post(
      '/api/review',
      {
        schema: {
          summary: 'Decide, comment, assign a component, merge, split, undo, redo',
          tags: ['review'],
          security: [{ token: [] }],
          body: reviewRequest,
          response: { 200: reviewDone, 409: reviewConflict, 422: problem },
        },
      },
      async (request, reply) => {
        const { store } = campaign;
        const outcome = store.act({ ...request.body, atUtc: new Date().toISOString() });
        if (outcome.kind === 'conflict') return reply.code(409).send(reviewConflictOf(store, outcome.findings));
        if (outcome.kind === 'refused')
          throw new HttpProblem({
            type: 'refused',
            title: outcome.because,
            status: 422,
            detail: outcome.detail,
            todo: REMEDY[outcome.because],
          });
        changes.look();
        return reviewDoneOf(store, request.body.by, outcome.act, outcome.changed);
      },
    );
  };
}
