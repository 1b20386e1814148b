import { useSyncExternalStore } from 'react';

/** Whether the server answers, and since when the newest answer stands. */
export interface Connection {
  readonly online: boolean;
  readonly lastAnswer: Date;
  /** Of the campaign, as last heard; null before the first word. */
  readonly revision: string | null;
}

let now: Connection = { online: true, lastAnswer: new Date(), revision: null };
const listeners = new Set<() => void>();
const set = (next: Connection): void => {
  now = next;
  for (const listener of listeners) listener();
};

export const connectionNow = (): Connection => now;

/** Answers come many a second; only what a reader would see changes the store. */
export function connectionMade(): void {
  if (!now.online || Date.now() - now.lastAnswer.getTime() > 10_000)
    set({ ...now, online: true, lastAnswer: new Date() });
}
export function connectionLost(): void {
  if (now.online) set({ ...now, online: false });
}
export function revisionHeard(revision: string): void {
  if (revision !== now.revision) set({ ...now, online: true, lastAnswer: new Date(), revision });
}

export const subscribeToConnection = (listener: () => void): (() => void) => {
  listeners.add(listener);
  return () => listeners.delete(listener);
};

export const useConnection = (): Connection => useSyncExternalStore(subscribeToConnection, connectionNow);
