import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { type PlanOutcome, planFlight } from '../../jobs/plan/planFlight.ts';
import { lineDepthM } from '../../place/plan/lineDepth.ts';
import { APPROACH_CAUTION } from '../../place/plan/minimumApproachDistance.ts';
import { type PlanAnswer, planAnswer, planRequest } from '../api/plan.ts';
import type { CampaignView } from '../CampaignView.ts';
import type { DeskContext } from '../DeskContext.ts';
import { HttpProblem } from '../problemOf.ts';

/** Before the flight: what a standoff and a speed give, and where to fly. Asking changes nothing, so no token is needed. */
export function planRoutes({ options, campaign }: DeskContext): FastifyPluginAsyncZod {
  return async (app) => {
    app.post(
      '/api/plan',
      {
        schema: {
          summary: 'Figures of a flight before it is flown, and passes along the line',
          tags: ['plan'],
          security: [{ token: [] }],
          body: planRequest,
          response: { 200: planAnswer },
        },
      },
      async (request) => {
        if (options.rigFile === null)
          throw new HttpProblem({
            type: 'refused',
            title: 'The rig is not known',
            status: 422,
            detail: 'A plan needs rig.json of the rig that will fly.',
            todo: 'Start the desk with --rig.',
          });
        const { exposureMs, colourExposureMs, withPasses, ...asked } = request.body;
        const view = campaign.now();
        const outcome = await planFlight({
          ...asked,
          exposureS: exposureMs / 1000,
          colourExposureS: colourExposureMs / 1000,
          voltageKv: asked.voltageKv ?? (view.line.voltageKv > 0 ? view.line.voltageKv : null),
          depthM: asked.depthM ?? (view.line.components.length > 0 ? lineDepthM(view.line) : null),
          rigFile: options.rigFile,
          registrationFile: options.registrationFile,
          lineFile: withPasses ? options.lineFile : null,
          withViews: false,
          outFolder: null,
        });
        return answerOf(outcome, view);
      },
    );
  };
}

function answerOf(outcome: PlanOutcome, view: CampaignView): PlanAnswer {
  const approach = outcome.approach.map((one) => ({ ...one }));
  if (outcome.kind === 'refused') return { ...outcome, approach, caution: APPROACH_CAUTION };
  const { files: _, views: __, passes, rows, ...rest } = outcome;
  return {
    ...rest,
    approach,
    caution: APPROACH_CAUTION,
    readout: { ...outcome.readout },
    rows: rows.map((row) => ({
      ...row,
      budget: { ...row.budget, parts: row.budget.parts.map((part) => ({ ...part })) },
    })),
    passes: passes && passesIn(passes, view),
    assumed: [...outcome.assumed],
    warnings: [...outcome.warnings],
  };
}

/** Passes are planned in a frame at the middle of the line; the desk draws in the campaign's. */
function passesIn(
  passes: NonNullable<Extract<PlanOutcome, { kind: 'planned' }>['passes']>,
  { line, frame }: CampaignView,
): Extract<PlanAnswer, { kind: 'planned' }>['passes'] {
  if (passes.kind === 'refused') return passes;
  const middle = line.structures[Math.floor(line.structures.length / 2)];
  if (middle === undefined) return { kind: 'refused', because: 'the campaign has no structures' };
  const planned = localFrameAt(frame.llhFromEnu(middle.footEnuM));
  return {
    kind: 'proposed',
    passes: passes.passes.map(({ name, lengthM, clearanceM, nearestId, waypoints }) => ({
      name,
      lengthM,
      clearanceM,
      nearestId,
      waypoints: waypoints.map(({ positionEnuM, headingDeg, structureId }) => {
        const positionLlh = planned.llhFromEnu(positionEnuM);
        return {
          positionEnuM: [...frame.enuFromLlh(positionLlh)] as [number, number, number],
          positionLlh: [...positionLlh] as [number, number, number],
          headingDeg,
          structureId,
        };
      }),
    })),
  };
}
