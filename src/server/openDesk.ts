import { randomBytes } from 'node:crypto';
import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import fastifyStatic from '@fastify/static';
import fastifySwagger from '@fastify/swagger';
import fastify, { type FastifyInstance } from 'fastify';
import {
  jsonSchemaTransform,
  serializerCompiler,
  validatorCompiler,
  type ZodTypeProvider,
} from 'fastify-type-provider-zod';
import { openGeoPackageCampaign } from '../campaign/openGeoPackageCampaign.ts';
import { InputError } from '../input/InputError.ts';
import { SOFTWARE } from '../jobs/software.ts';
import { OpenCampaign } from './CampaignView.ts';
import { ChangeFeed } from './ChangeFeed.ts';
import type { DeskContext } from './DeskContext.ts';
import type { DeskOptions } from './DeskOptions.ts';
import { EventShelf } from './EventShelf.ts';
import { earlierCampaigns } from './earlierCampaigns.ts';
import { guardRequests } from './guard/guardRequests.ts';
import { isLoopback, namesOf } from './guard/loopback.ts';
import { JobRunner } from './JobRunner.ts';
import { jobWords } from './jobWords.ts';
import { notFound, problemOf } from './problemOf.ts';
import { RecordingShelf } from './RecordingShelf.ts';
import { RigShelf } from './RigShelf.ts';
import { benchRoutes } from './routes/benchRoutes.ts';
import { campaignRoutes } from './routes/campaignRoutes.ts';
import { changeRoutes } from './routes/changeRoutes.ts';
import { findingRoutes } from './routes/findingRoutes.ts';
import { flightRoutes } from './routes/flightRoutes.ts';
import { jobRoutes } from './routes/jobRoutes.ts';
import { planRoutes } from './routes/planRoutes.ts';
import { registrationRoutes } from './routes/registrationRoutes.ts';
import { reviewRoutes } from './routes/reviewRoutes.ts';
import { sessionRoutes } from './routes/sessionRoutes.ts';
import { tileRoutes } from './routes/tileRoutes.ts';

export interface OpenedDesk {
  /** With the token, for the one who started it. */
  readonly address: string;
  readonly origin: string;
  readonly token: string;
  readonly app: FastifyInstance;
  close(): Promise<void>;
}

/** Largest body that anything here needs; a longer one is refused before it is read. */
const BODY_LIMIT_BYTES = 256 * 1024;
const LEAST_TOKEN = /^[\w-]{16,200}$/;

/**
 * Opens campaign and recordings and begins to answer.
 * @throws InputError for a campaign or recording that cannot be opened, and for a host beyond loopback without token and TLS
 */
export async function openDesk(
  options: DeskOptions,
  tellFault: (error: unknown) => void = () => undefined,
): Promise<OpenedDesk> {
  const loopback = isLoopback(options.host);
  checkOpenness(options, loopback);
  const store = openGeoPackageCampaign(options.campaignFile, { create: false });
  try {
    const flights = await RecordingShelf.of(options.flightPaths, 'flight.json');
    const benches = await RecordingShelf.of(options.benchPaths, 'bench.json');
    const token = options.token ?? randomBytes(24).toString('base64url');
    let port = options.port;
    let names: ReadonlySet<string> = new Set();
    const campaign = new OpenCampaign(options.campaignFile, store);
    const changes = new ChangeFeed(campaign);
    const earlier = earlierCampaigns(options.earlierCampaignFiles);
    const known = { options, campaign, flights, benches, earlier };
    const jobs = new JobRunner({
      command: options.command,
      folder: `${campaign.stem}.jobs`,
      wordsOf: (request) => jobWords(known, request),
      tell: (job) => {
        changes.tell({ event: 'job', data: job });
        changes.look();
      },
      nowUtc: () => new Date().toISOString(),
    });
    const context: DeskContext = {
      jobs,
      options,
      campaign,
      changes,
      flights,
      benches,
      earlier,
      events: new EventShelf(campaign, flights),
      rigs: await RigShelf.of(options),
      guard: { names: () => names, port: () => port, token, loopback, secure: options.tls !== null },
    };
    const app = await deskApp(context, tellFault);
    const scheme = options.tls === null ? 'http' : 'https';
    await app.listen({ host: options.host, port: options.port });
    port = (app.server.address() as { port: number }).port;
    names = namesOf(options.host, port);
    const origin = `${scheme}://${options.host.includes(':') ? `[${options.host}]` : options.host}:${port}`;
    return {
      address: `${origin}/#key=${token}`,
      origin,
      token,
      app,
      async close() {
        await jobs.close();
        changes.close();
        await app.close();
        await flights.close();
        store.close();
      },
    };
  } catch (error) {
    store.close();
    throw asInputError(error, options);
  }
}

/** The application itself: what it answers, and nothing of where it listens. */
export async function deskApp(context: DeskContext, tellFault: (error: unknown) => void): Promise<FastifyInstance> {
  const { tls, deskFolder } = context.options;
  const base = {
    bodyLimit: BODY_LIMIT_BYTES,
    routerOptions: { maxParamLength: 300 },
    // A client that sends its request a byte a minute does not hold a connection for ever.
    requestTimeout: 30_000,
    forceCloseConnections: true,
  };
  const plain = (
    tls === null
      ? fastify(base)
      : fastify({ ...base, https: { cert: await readFile(tls.certFile), key: await readFile(tls.keyFile) } })
  ) as FastifyInstance;
  const app = plain.withTypeProvider<ZodTypeProvider>();
  app.setValidatorCompiler(validatorCompiler);
  app.setSerializerCompiler(serializerCompiler);
  guardRequests(app, context.guard);
  app.setErrorHandler(async (error, _request, reply) => {
    const problem = problemOf(error);
    if (problem.status >= 500) tellFault(error);
    return reply
      .code(problem.status)
      .header('content-type', 'application/problem+json; charset=utf-8')
      .header('cache-control', 'no-store')
      .send(JSON.stringify(problem));
  });
  app.setNotFoundHandler(async (request) => {
    throw notFound(`There is nothing at ${request.url.split('?')[0]}.`);
  });
  await app.register(fastifySwagger, {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'Corposant desk',
        description: 'What the desk asks of its local server; docs/server.md tells it by example.',
        version: SOFTWARE.split(' ')[1],
        license: { name: 'Apache-2.0' },
      },
      components: { securitySchemes: { token: { type: 'http', scheme: 'bearer' } } },
    },
    transform: jsonSchemaTransform,
  });
  await app.register(campaignRoutes(context));
  await app.register(findingRoutes(context));
  await app.register(reviewRoutes(context));
  await app.register(changeRoutes(context));
  await app.register(flightRoutes(context));
  await app.register(registrationRoutes(context));
  await app.register(benchRoutes(context));
  await app.register(planRoutes(context));
  await app.register(jobRoutes(context));
  await app.register(tileRoutes(context));
  await app.register(sessionRoutes(context));
  app.get('/api/openapi.json', { schema: { hide: true } }, async (_request, reply) =>
    reply.header('cache-control', 'no-cache').send(app.swagger()),
  );
  if (deskFolder !== null && existsSync(deskFolder))
    await app.register(fastifyStatic, {
      root: deskFolder,
      // Vite names its files by their content.
      setHeaders: (response, path) =>
        response.header(
          'cache-control',
          /[\\/]assets[\\/]/.test(path) ? 'public, max-age=31536000, immutable' : 'no-cache',
        ),
    });
  await app.ready();
  return app;
}

function checkOpenness(options: DeskOptions, loopback: boolean): void {
  const refuse = (field: string, found: string, expected: string, todo: string): never => {
    throw new InputError({ file: 'command line', field, found, expected, todo });
  };
  if (options.token !== null && !LEAST_TOKEN.test(options.token))
    refuse(
      'token',
      'a token that is too short or has other signs',
      '16 to 200 letters, digits, - and _',
      'Make one with: openssl rand -hex 24',
    );
  if (loopback) return;
  if (options.token === null)
    refuse(
      'host',
      options.host,
      'a token where the desk can be reached from other machines',
      'Give --token, or leave --host away.',
    );
  if (options.tls === null)
    refuse(
      'host',
      options.host,
      'a certificate where the desk can be reached from other machines',
      'Give --cert and --key, or leave --host away.',
    );
}

function asInputError(error: unknown, { host, port }: DeskOptions): unknown {
  const { code } = error as { code?: string };
  const said = {
    EADDRINUSE: 'a port that another program holds',
    EACCES: 'a port that needs more rights',
    EADDRNOTAVAIL: 'an address that this machine does not have',
  };
  if (code === undefined || !(code in said)) return error;
  return new InputError({
    file: 'command line',
    field: code === 'EADDRNOTAVAIL' ? 'host' : 'port',
    found: `${host}:${port}, ${said[code as keyof typeof said]}`,
    expected: 'an address to listen on',
    todo: 'Choose another, or leave --port away.',
  });
}
