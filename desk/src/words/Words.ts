import type { en } from './en/index.ts';

type Like<T> = T extends string ? string : { readonly [K in keyof T]: Like<T[K]> };

/** What a language must supply: the same keys as English, no fewer and no more. */
export type Words = Like<typeof en>;
