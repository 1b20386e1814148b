import { z } from 'zod';
import { COMPONENT_KINDS } from '../../line/LineModel.ts';
import { enu, llh } from './quantities.ts';

/** What the flights say of one component. "Clear" always comes with a limit; "not seen" is never called clear. */
export const coverageState = z.object({
  state: z.enum(['finding', 'clear', 'not seen']),
  framesInView: z.int(),
  nearestRangeM: z.number().nullable(),
  /** The weakest discharge that would have been found with 95 %, photons a second at the source. */
  limitHz: z.number().nullable(),
  /** Anything else that was recorded about this component's coverage, in words. */
  reasons: z.array(z.string()),
});

export const structureAnswer = z.object({
  id: z.string(),
  kind: z.enum(['suspension', 'tension']),
  footEnuM: enu,
  footLlh: llh,
  heightM: z.number(),
  sigmaM: z.number(),
  /** Way along the line from its first structure, for the profile. */
  alongM: z.number(),
});

export const componentAnswer = z.object({
  id: z.string(),
  kind: z.enum(COMPONENT_KINDS),
  structureIds: z.array(z.string()),
  circuit: z.string(),
  phase: z.string(),
  side: z.string().nullable(),
  /** Two points for hardware, one where it is point-like, many for a conductor. */
  axisEnuM: z.array(enu),
  axisLlh: z.array(llh),
  /** Of each point of the axis, along the line from its first structure. */
  alongM: z.array(z.number()),
  radiusM: z.number(),
  sigmaM: z.number(),
  discs: z.int(),
  bundle: z.object({ count: z.int(), spacingM: z.number(), radiusM: z.number() }).nullable(),
  coverage: coverageState,
  findingIds: z.array(z.string()),
});

/** GET /api/line */
export const lineAnswer = z.object({
  name: z.string(),
  owner: z.string(),
  voltageKv: z.number(),
  structures: z.array(structureAnswer),
  /** Hardware. */
  components: z.array(componentAnswer),
  /** Phase conductors and earth wires, as polylines of their catenaries. */
  conductors: z.array(componentAnswer),
});
export type LineAnswer = z.infer<typeof lineAnswer>;
export type StructureAnswer = z.infer<typeof structureAnswer>;
export type ComponentAnswer = z.infer<typeof componentAnswer>;
export type CoverageStateAnswer = z.infer<typeof coverageState>;
