import { createHash } from 'node:crypto';
import type { FastifyReply, FastifyRequest } from 'fastify';

/** Whether the client holds this already; then 304 was answered. `what` must change whenever the answer does. */
export function answeredUnchanged(request: FastifyRequest, reply: FastifyReply, ...what: readonly string[]): boolean {
  const tag = `"${createHash('sha256').update(what.join('\n')).digest('base64url').slice(0, 22)}"`;
  // The browser may keep it, but asks each time: a decision of somebody else must not wait.
  reply.header('etag', tag).header('cache-control', 'private, no-cache');
  if (request.headers['if-none-match'] !== tag) return false;
  reply.code(304).send();
  return true;
}

/** Sends JSON that was made once for a revision: nothing is checked or written again for the next who asks. */
export function sendJson<R extends FastifyReply>(reply: R, json: string | Buffer): R {
  const untyped: FastifyReply = reply;
  untyped.header('content-type', 'application/json; charset=utf-8').send(json);
  return reply;
}
