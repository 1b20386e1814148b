import { z } from 'zod';

const recording = z.string().min(1).max(200);

/** POST /api/jobs. Files are named, never pathed: the server knows where what it was given lies. */
export const jobRequest = z.discriminatedUnion('kind', [
  z.object({
    kind: z.literal('inspect'),
    flight: recording.describe('name of a flight the server was given'),
    falseAlarmsPerHour: z.number().positive().max(1000).default(1),
    again: z.boolean().default(false),
  }),
  z.object({ kind: z.literal('bench'), bench: recording.describe('name of a bench run the server was given') }),
  z.object({ kind: z.literal('check'), flight: recording }),
  z.object({ kind: z.literal('report'), language: z.enum(['en', 'de']).default('en') }),
  z.object({
    kind: z.literal('compare'),
    earlier: z.string().min(1).max(200).describe('name of an earlier campaign the server was given'),
  }),
  z.object({ kind: z.literal('export'), as: z.enum(['folder', 'zip']).default('folder') }),
]);
export type JobRequest = z.input<typeof jobRequest>;

export const JOB_STATES = ['waiting', 'running', 'done', 'failed', 'cancelled', 'interrupted'] as const;

export const job = z.object({
  id: z.string(),
  kind: z.enum(['inspect', 'bench', 'check', 'report', 'compare', 'export']),
  /** What it works on: a flight, a bench run, a language, an earlier campaign, a form. */
  subject: z.string(),
  state: z.enum(JOB_STATES),
  /** The command that does the same, for a terminal. */
  command: z.string(),
  createdUtc: z.string(),
  startedUtc: z.string().nullable(),
  endedUtc: z.string().nullable(),
  progress: z
    .object({
      step: z.string(),
      done: z.number(),
      total: z.number(),
      unit: z.string(),
      /** Things a second over the last stretch, and time left at that; null until it can be told. */
      perS: z.number().nullable(),
      leftS: z.number().nullable(),
    })
    .nullable(),
  notes: z.array(z.string()),
  /** Whether it may be started again where it stopped. */
  canResume: z.boolean(),
  /** Whether its verdict was negative (a bench outside its tolerance), where it is done. */
  verdictNegative: z.boolean().nullable(),
  /** What the command printed with --json, once it is done. */
  result: z.unknown(),
  /** Why it failed. */
  problem: z
    .object({
      title: z.string(),
      file: z.string().optional(),
      found: z.string().optional(),
      expected: z.string().optional(),
      todo: z.string().optional(),
    })
    .nullable(),
});
export type Job = z.infer<typeof job>;

/** GET /api/jobs */
export const jobsAnswer = z.object({
  jobs: z.array(job),
  /** What may be named in a request. */
  flights: z.array(z.string()),
  benches: z.array(z.string()),
  earlierCampaigns: z.array(z.string()),
});
export type JobsAnswer = z.infer<typeof jobsAnswer>;
