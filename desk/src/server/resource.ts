import { useCallback, useSyncExternalStore } from 'react';
import { askBytes, askJson } from './ask.ts';
import { type Problem, ProblemError } from './Problem.ts';

/** What is known of one address of the server. Data stay while a newer answer is on its way. */
export type Resource<T> =
  | { readonly state: 'loading' }
  | { readonly state: 'failed'; readonly problem: Problem }
  | { readonly state: 'ready'; readonly data: T; readonly refreshing: boolean };

interface Entry {
  resource: Resource<unknown>;
  /** Counts requests, so that a late answer to an early question is dropped. */
  asked: number;
  stale: boolean;
  readonly load: () => Promise<unknown>;
  readonly listeners: Set<() => void>;
}

const entries = new Map<string, Entry>();
const LOADING: Resource<never> = { state: 'loading' };
/** Addresses that nobody looks at are forgotten beyond this many, oldest first. */
const MOST_KEPT = 200;

function publish(entry: Entry, resource: Resource<unknown>): void {
  entry.resource = resource;
  for (const listener of entry.listeners) listener();
}

async function load(entry: Entry): Promise<void> {
  const turn = ++entry.asked;
  entry.stale = false;
  if (entry.resource.state === 'ready') publish(entry, { ...entry.resource, refreshing: true });
  else publish(entry, LOADING);
  try {
    const data = await entry.load();
    if (turn === entry.asked) publish(entry, { state: 'ready', data, refreshing: false });
  } catch (error) {
    if (turn !== entry.asked) return;
    const problem: Problem =
      error instanceof ProblemError
        ? error.problem
        : { kind: 'refused', status: 0, title: 'not readable', detail: String(error), body: {} };
    // Without a connection the older answer is worth more than a blank page; the band says how old it is.
    if (problem.kind === 'offline' && entry.resource.state === 'ready') {
      entry.stale = true;
      publish(entry, { ...entry.resource, refreshing: false });
    } else publish(entry, { state: 'failed', problem });
  }
}

function entryOf(key: string, loader: () => Promise<unknown>): Entry {
  const there = entries.get(key);
  if (there) return there;
  if (entries.size >= MOST_KEPT)
    for (const [old, entry] of entries)
      if (entry.listeners.size === 0) {
        entries.delete(old);
        break;
      }
  const entry: Entry = { resource: LOADING, asked: 0, stale: true, load: loader, listeners: new Set() };
  entries.set(key, entry);
  return entry;
}

/** All that lives on the campaign's revision is asked for again: now where it is on view, later where it is not. */
export function refreshAll(): void {
  for (const entry of entries.values()) {
    entry.stale = true;
    if (entry.listeners.size > 0) void load(entry);
  }
}

export function refresh(path: string): void {
  const entry = entries.get(path);
  if (entry) void load(entry);
}

/** Puts an answer in place that came by another way, such as the row that a review returned. */
export function replace<T>(path: string, change: (data: T) => T): void {
  const entry = entries.get(path);
  if (entry?.resource.state === 'ready') publish(entry, { ...entry.resource, data: change(entry.resource.data as T) });
}

/** Loads ahead of need. */
export function prefetch(path: string): void {
  const entry = entryOf(path, () => askJson(path));
  if (entry.stale && entry.asked === 0) void load(entry);
}

const NOTHING: Resource<never> = LOADING;

function useEntry<T>(key: string | null, loader: () => Promise<unknown>): Resource<T> {
  // biome-ignore lint/correctness/useExhaustiveDependencies: the key names what the loader loads
  const subscribe = useCallback(
    (listener: () => void) => {
      if (key === null) return () => undefined;
      const entry = entryOf(key, loader);
      entry.listeners.add(listener);
      if (entry.stale) void load(entry);
      return () => {
        entry.listeners.delete(listener);
      };
    },
    [key],
  );
  return useSyncExternalStore(subscribe, () =>
    key === null ? NOTHING : ((entries.get(key)?.resource ?? LOADING) as Resource<T>),
  ) as Resource<T>;
}

/** JSON of the server, kept and shared between views; null asks for nothing. */
export const useResource = <T>(path: string | null): Resource<T> => useEntry<T>(path, () => askJson(path!));

/** Binary answer of the server, kept and shared. */
export const useBytes = (path: string | null): Resource<ArrayBuffer> =>
  useEntry<ArrayBuffer>(path, () => askBytes(path!));

/** JSON once, through the same store. */
export async function resourceNow<T>(path: string): Promise<T> {
  const entry = entryOf(path, () => askJson(path));
  if (entry.resource.state !== 'ready' || entry.stale) await load(entry);
  const { resource } = entry;
  if (resource.state === 'ready') return resource.data as T;
  if (resource.state === 'failed') throw new ProblemError(resource.problem);
  return entry.load() as Promise<T>;
}
