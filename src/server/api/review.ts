import { z } from 'zod';
import { revision } from './quantities.ts';

export const DECISIONS = ['open', 'confirmed', 'rejected'] as const;
export const ACTS = [
  'confirmed',
  'rejected',
  'reopened',
  'comment',
  'component',
  'merge',
  'split',
  'undo',
  'redo',
] as const;

/** A finding together with the revision of it that the reviewer saw. */
export const seenFinding = z.object({ id: z.string().min(1).max(200), revision });

const who = z.string().trim().min(1).max(100).describe('name or initials of the reviewer');
const why = z.string().max(2000).default('').describe('the reason, kept in the log');

/** POST /api/review. Several findings in one request are one act: all or none, and one undo takes all back. */
export const reviewRequest = z.discriminatedUnion('action', [
  z.object({
    action: z.literal('decide'),
    by: who,
    findings: z.array(seenFinding).min(1).max(500),
    decision: z.enum(DECISIONS),
    comment: z.string().max(4000).default('').describe('replaces the comment that stands, unless empty'),
    why,
  }),
  z.object({
    action: z.literal('comment'),
    by: who,
    findings: z.array(seenFinding).min(1).max(500),
    comment: z.string().max(4000),
    why,
  }),
  z.object({
    action: z.literal('assign component'),
    by: who,
    findings: z.array(seenFinding).min(1).max(500),
    componentId: z.string().min(1).max(200).nullable().describe('null: none of the components known'),
    why,
  }),
  z.object({
    action: z.literal('merge'),
    by: who,
    into: seenFinding,
    findings: z.array(seenFinding).min(1).max(100).describe('the others, which become part of `into`'),
    why,
  }),
  z.object({
    action: z.literal('split'),
    by: who,
    from: seenFinding,
    sightingIds: z.array(z.string().min(1).max(200)).min(1).max(1000).describe('these become a finding of their own'),
    why,
  }),
  z.object({
    action: z.literal('undo'),
    by: who,
    act: z.int().positive().nullable().default(null).describe("an act of the log; null: this reviewer's last one"),
    why,
  }),
  z.object({ action: z.literal('redo'), by: who, why }),
]);
export type ReviewRequest = z.input<typeof reviewRequest>;

/** One line of the review log, which only grows. */
export const reviewLogEntry = z.object({
  /** Place in the log, from 1. */
  line: z.int(),
  /** Lines of one act share the number of its first; this is what undo names. */
  act: z.int(),
  findingId: z.string(),
  atUtc: z.string(),
  who: z.string(),
  what: z.enum(ACTS),
  value: z.string(),
  why: z.string(),
  /** Other findings it concerns: those merged, the one split off. */
  otherFindingIds: z.array(z.string()),
  /** Those that were split off. */
  sightingIds: z.array(z.string()),
  /** Whether it stands: false where it was taken back. */
  stands: z.boolean(),
});
export type ReviewLogEntry = z.infer<typeof reviewLogEntry>;

/** 200 of POST /api/review */
export const reviewDone = z.object({
  /** Of the campaign, after it. */
  revision,
  acts: z.array(reviewLogEntry),
  /** Findings that changed, appeared or went into another, with their new revision. */
  changed: z.array(z.object({ id: z.string(), revision })),
  canUndo: z.boolean(),
  canRedo: z.boolean(),
});
export type ReviewDone = z.infer<typeof reviewDone>;

/** 409 of POST /api/review: somebody else changed one of the findings since it was looked at. Nothing was done. */
export const reviewConflict = z.object({
  type: z.literal('conflict'),
  title: z.string(),
  status: z.literal(409),
  detail: z.string(),
  /** The findings as they are now, each with what was done to it since. */
  newer: z.array(
    z.object({
      id: z.string(),
      revision: revision.nullable().describe('null: it is no longer there'),
      decision: z.enum(DECISIONS).nullable(),
      comment: z.string().nullable(),
      componentId: z.string().nullable(),
      mergedInto: z.string().nullable(),
      lastActs: z.array(reviewLogEntry),
    }),
  ),
});
export type ReviewConflict = z.infer<typeof reviewConflict>;

/** GET /api/review?since=&finding=&by= : lines after `since`, about `finding`. */
export const reviewLogAnswer = z.object({
  revision,
  entries: z.array(reviewLogEntry),
  /** Of the reviewer named in `by`; null where none was. */
  canUndo: z.boolean().nullable(),
  canRedo: z.boolean().nullable(),
});
export type ReviewLogAnswer = z.infer<typeof reviewLogAnswer>;
