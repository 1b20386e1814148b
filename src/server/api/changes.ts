import { z } from 'zod';
import { job } from './jobs.ts';
import { revision } from './quantities.ts';

/** GET /api/changes: server-sent events; `event` names which of these `data` is. */
export const changeEvents = {
  /** The campaign changed, by this server or by another process. */
  revision: z.object({ revision }),
  /** A job began, moved on or ended. */
  job,
};
export type RevisionChange = z.infer<typeof changeEvents.revision>;
