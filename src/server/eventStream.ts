import type { FastifyReply } from 'fastify';

export interface EventStream {
  send(event: string, data: unknown): void;
  end(): void;
}

/** Proxies and browsers give up a connection that is silent for long. */
const ALIVE_EVERY_MS = 15_000;

/** Answers with server-sent events (WHATWG HTML, 9.2) until either side closes. */
export function eventStream(reply: FastifyReply, closed: () => void): EventStream {
  reply.hijack();
  const { raw } = reply;
  const headers: Record<string, string> = {};
  for (const [name, value] of Object.entries(reply.getHeaders()))
    if (value !== undefined) headers[name] = String(value);
  raw.writeHead(200, { ...headers, 'content-type': 'text/event-stream; charset=utf-8', 'cache-control': 'no-store' });
  raw.write('retry: 2000\n\n');
  const alive = setInterval(() => raw.write(': alive\n\n'), ALIVE_EVERY_MS);
  alive.unref();
  raw.on('close', () => {
    clearInterval(alive);
    closed();
  });
  return {
    send: (event, data) => raw.write(`event: ${event}\ndata: ${JSON.stringify(data)}\n\n`),
    end: () => raw.end(),
  };
}
