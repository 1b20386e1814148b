import { z } from 'zod';

/** What went wrong, as RFC 9457 has it; with the fields of a fault in the input where that is what it was. */
export const problem = z.object({
  type: z.string().describe('about:blank, or a name of the kind of problem'),
  title: z.string(),
  status: z.int(),
  detail: z.string().optional(),
  file: z.string().optional(),
  row: z.int().optional(),
  field: z.string().optional(),
  found: z.string().optional(),
  expected: z.string().optional(),
  todo: z.string().optional(),
});
export type Problem = z.infer<typeof problem>;
