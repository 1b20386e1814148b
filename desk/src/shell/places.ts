import { type ComponentType, type LazyExoticComponent, lazy } from 'react';
import type { en } from '../words/en/index.ts';

/** The places in the order of the navigation. A folder of that name under places/ with a `...Place.tsx` makes one. */
export const PLACES = ['line', 'evidence', 'findings', 'flight', 'bench', 'plan', 'jobs'] as const;
export type PlaceName = (typeof PLACES)[number];
// A place without words would have no name in the navigation.
type Named = keyof typeof en.shell;
PLACES satisfies readonly Named[];

const files = import.meta.glob<{ default: ComponentType }>('../places/*/*Place.tsx');

const found: Partial<Record<PlaceName, LazyExoticComponent<ComponentType>>> = {};
const loaders: Partial<Record<PlaceName, () => Promise<unknown>>> = {};
for (const [file, load] of Object.entries(files)) {
  const name = file.split('/').at(-2) as PlaceName;
  if (!PLACES.includes(name)) continue;
  found[name] = lazy(load);
  loaders[name] = load;
}

export const placeNamed = (name: string): LazyExoticComponent<ComponentType> | null => found[name as PlaceName] ?? null;
export const placesThere = (): PlaceName[] => PLACES.filter((name) => found[name]);
/** Fetches a place's code before it is wanted. */
export const warmPlace = (name: string): void => void loaders[name as PlaceName]?.();
