import { readFile } from 'node:fs/promises';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { uvPx } from '../../camera/pixel.ts';
import { colourFromUv, colourPxFromUv } from '../../rig/colourFromUv.ts';
import { TABLE_CHANNELS } from '../../rig/lookUpTable.ts';
import { answeredUnchanged, sendJson } from '../answerTagged.ts';
import { overlayPoint, registrationsAnswer } from '../api/registration.ts';
import { COLUMNS_TYPE, columnsBytes } from '../columns.ts';
import type { DeskContext } from '../DeskContext.ts';
import { notFound } from '../problemOf.ts';

const byHash = z.object({ hash: z.string().regex(/^[0-9a-f]{64}$/, 'a SHA-256 in lower case') });
const range = z.coerce.number().positive().optional().describe('metres from the uv camera; infinite where left out');

/** The mapping from ultraviolet to colour, whole, as a table, and at one place. */
export function registrationRoutes({ rigs }: DeskContext): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/api/registrations',
      {
        schema: {
          summary: 'Registrations that the server knows',
          tags: ['registration'],
          response: { 200: registrationsAnswer },
        },
      },
      async () => ({
        registrations: rigs.registrations.map(({ which, registration, document }) => ({
          hash: registration.hash,
          which,
          rigId: document?.rigId ?? rigs.rig?.id ?? null,
          recordedUtc: document?.validity.recordedUtc ?? null,
          heldOutRmsPx: registration.heldOutRmsPx,
          model: registration.model.kind,
        })),
      }),
    );

    app.get(
      '/api/registration/:hash',
      {
        schema: {
          summary: 'The registration file itself; for the nominal one its model alone',
          tags: ['registration'],
          params: byHash,
        },
      },
      async (request, reply) => {
        const { file, registration } = rigs.byHash(request.params.hash);
        if (answeredUnchanged(request, reply, 'registration', registration.hash)) return reply;
        if (file !== null) return sendJson(reply, await readFile(file));
        const { model, support, heldOutRmsPx } = registration;
        return sendJson(reply, JSON.stringify({ format: 'nominal values', model, support, heldOutRmsPx }));
      },
    );

    app.get(
      '/api/registration/:hash/table',
      {
        schema: {
          summary:
            'Look-up table colour from uv, as columns: nodes (float32, 6 a node: u, v, slope of each by inverse range, factor of its square)',
          tags: ['registration'],
          params: byHash,
        },
      },
      async (request, reply) => {
        const known = rigs.byHash(request.params.hash);
        if (answeredUnchanged(request, reply, 'table', request.params.hash)) return reply;
        const { data, ...about } = rigs.tableOf(known);
        return reply
          .header('content-type', COLUMNS_TYPE)
          .send(columnsBytes('look-up table', data.length / TABLE_CHANNELS, { nodes: data }, about));
      },
    );

    app.get(
      '/api/registration/:hash/at',
      {
        schema: {
          summary: 'The colour pixel of a uv pixel at a range, with its covariance',
          tags: ['registration'],
          params: byHash,
          querystring: z.object({
            u: z.coerce.number(),
            v: z.coerce.number(),
            rangeM: range,
            rangeSigmaM: z.coerce.number().min(0).default(0),
          }),
          response: { 200: overlayPoint },
        },
      },
      async (request) => {
        const { registration } = rigs.byHash(request.params.hash);
        const { u, v, rangeM, rangeSigmaM } = request.query;
        const inverseRange = rangeM === undefined ? 0 : 1 / rangeM;
        const mapped = colourFromUv(registration, uvPx(u, v), inverseRange, rangeSigmaM * inverseRange ** 2);
        if (mapped.kind === 'refused') return mapped;
        return {
          kind: 'mapped' as const,
          colourPx: [mapped.px[0], mapped.px[1]] as [number, number],
          covariancePx2: [...mapped.covariancePx2],
          byInverseRange: [...mapped.byInverseRange] as [number, number],
          support: mapped.support,
        };
      },
    );

    app.get(
      '/api/registration/:hash/overlay',
      {
        schema: {
          summary:
            'The lattice colour from uv at one range, from the model itself, as columns: uv_px (2), colour_px (2)',
          tags: ['registration'],
          params: byHash,
          querystring: z.object({ rangeM: range, stepPx: z.coerce.number().int().min(4).max(512).default(32) }),
        },
      },
      async (request, reply) => {
        const { model } = rigs.byHash(request.params.hash).registration;
        const { rangeM, stepPx } = request.query;
        if (model.uv.widthPx < 1) throw notFound('The registration has no uv image.');
        const columns = Math.ceil((model.uv.widthPx - 1) / stepPx) + 1;
        const rows = Math.ceil((model.uv.heightPx - 1) / stepPx) + 1;
        const uv = new Float64Array(2 * rows * columns);
        const colour = new Float64Array(2 * rows * columns).fill(Number.NaN);
        for (let i = 0; i < rows * columns; i++) {
          const [u, v] = [(i % columns) * stepPx, Math.floor(i / columns) * stepPx];
          uv.set([u, v], 2 * i);
          const px = colourPxFromUv(model, u, v, rangeM === undefined ? 0 : 1 / rangeM);
          if (px !== null) colour.set(px, 2 * i);
        }
        const about = { rows, columns, stepPx, rangeM: rangeM ?? null };
        return reply
          .header('content-type', COLUMNS_TYPE)
          .send(columnsBytes('lattice', rows * columns, { uv_px: uv, colour_px: colour }, about));
      },
    );
  };
}
