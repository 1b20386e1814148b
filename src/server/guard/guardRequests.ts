import { createHash, timingSafeEqual } from 'node:crypto';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { HttpProblem } from '../problemOf.ts';

export interface GuardOptions {
  /** Known once the port is. */
  names(): ReadonlySet<string>;
  port(): number;
  readonly token: string;
  readonly loopback: boolean;
  readonly secure: boolean;
}

/** Browsers share cookies between the ports of a host: each desk has its own. */
const cookieName = (port: number): string => `corposant-${port}`;
const READING = new Set(['GET', 'HEAD', 'OPTIONS']);

/** No script, style, picture or connection from anywhere but this server; no page of another site may show or drive this one. */
export const CONTENT_POLICY = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' blob: data:",
  "font-src 'self'",
  "connect-src 'self'",
  "worker-src 'self' blob:",
  "manifest-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join('; ');

const HEADERS = {
  'content-security-policy': CONTENT_POLICY,
  'cross-origin-opener-policy': 'same-origin',
  'cross-origin-resource-policy': 'same-origin',
  'permissions-policy': 'camera=(), geolocation=(), microphone=()',
  'referrer-policy': 'no-referrer',
  'x-content-type-options': 'nosniff',
  'x-frame-options': 'DENY',
} as const;

/**
 * Who may ask. A page of another site that the user happens to have open can send requests to a local server, directly or by a
 * name that it points here (DNS rebinding): the Host must be one of ours, an Origin must be our own. Whoever writes shows the
 * token of this start; beyond loopback also whoever reads.
 */
export function guardRequests(app: FastifyInstance, options: GuardOptions): void {
  app.addHook('onRequest', async (request, reply) => {
    reply.headers(HEADERS);
    const host = request.headers.host?.toLowerCase() ?? '';
    if (!options.names().has(host))
      throw new HttpProblem({
        type: 'wrong-host',
        title: 'Not under this name',
        status: 421,
        detail: 'This server answers under the address that the command printed, and no other.',
      });
    const { origin } = request.headers;
    const own = `${options.secure ? 'https' : 'http'}://${host}`;
    const site = request.headers['sec-fetch-site'];
    if ((origin !== undefined && origin.toLowerCase() !== own) || site === 'cross-site' || site === 'same-site')
      if (!isOpening(request)) throw fromElsewhere();
    if (!request.url.startsWith('/api/') || request.url === '/api/session') return;
    if (options.loopback && READING.has(request.method)) return;
    if (!maySpeak(request, options))
      throw new HttpProblem({
        type: 'token-needed',
        title: 'Not without the token of this start',
        status: 401,
        detail: 'Open the address that the command printed; programs send it as Authorization: Bearer.',
      });
  });
}

/** A link from elsewhere that opens the desk itself as a page is fine; it shows nothing to the other site. */
const isOpening = (request: FastifyRequest): boolean =>
  request.method === 'GET' && request.headers['sec-fetch-mode'] === 'navigate' && !request.url.startsWith('/api/');

const fromElsewhere = (): HttpProblem =>
  new HttpProblem({
    type: 'wrong-origin',
    title: 'Not from another site',
    status: 403,
    detail: 'The request comes from a page that this server did not serve.',
  });

/** Whether the request shows the token, as bearer or in the cookie of a session. */
export function maySpeak(request: FastifyRequest, { token, port }: GuardOptions): boolean {
  const bearer = /^Bearer (.+)$/i.exec(request.headers.authorization ?? '')?.[1];
  const cookie = new RegExp(`(?:^|; )${cookieName(port())}=([^;]+)`).exec(request.headers.cookie ?? '')?.[1];
  return [bearer, cookie].some((given) => given !== undefined && equalTexts(given, token));
}

/** Header that begins a session: kept by the browser, out of reach of scripts and of other sites, gone when it closes. */
export const sessionCookie = ({ token, secure, port }: GuardOptions): string =>
  `${cookieName(port())}=${token}; Path=/; HttpOnly; SameSite=Strict${secure ? '; Secure' : ''}`;

/** In a time that tells nothing of where two texts differ. */
export function equalTexts(a: string, b: string): boolean {
  const digest = (text: string): Buffer => createHash('sha256').update(text).digest();
  return timingSafeEqual(digest(a), digest(b));
}
