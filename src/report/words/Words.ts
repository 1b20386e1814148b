import type { en } from './en/index.ts';
import type { Like } from './Like.ts';

/** What a language must supply: the same keys as English, no fewer and no more. */
export type Words = Like<typeof en>;
