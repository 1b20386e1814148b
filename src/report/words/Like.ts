/** The same keys, whatever the words. */
export type Like<T> = T extends string ? string : { readonly [K in keyof T]: Like<T[K]> };
