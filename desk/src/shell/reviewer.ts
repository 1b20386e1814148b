import { useSyncExternalStore } from 'react';

const KEPT_AS = 'corposant.reviewer';
const listeners = new Set<() => void>();

/** Under whose name decisions are kept; null until someone has said so on this machine. */
export const reviewerNow = (): string | null => localStorage.getItem(KEPT_AS);

export function nameReviewer(name: string): void {
  localStorage.setItem(KEPT_AS, name);
  for (const listener of listeners) listener();
}

export const useReviewer = (): string | null =>
  useSyncExternalStore((listener) => {
    listeners.add(listener);
    return () => listeners.delete(listener);
  }, reviewerNow);

let asking: ((name: string | null) => void) | null = null;
const askListeners = new Set<() => void>();
export const isAsking = (): boolean => asking !== null;
export const subscribeToAsking = (listener: () => void): (() => void) => {
  askListeners.add(listener);
  return () => askListeners.delete(listener);
};
const tell = (): void => {
  for (const listener of askListeners) listener();
};

/** The reviewer's name, asked for in a dialog where none is known; null where the dialog was left. */
export function needReviewer(): Promise<string | null> {
  const name = reviewerNow();
  return name ? Promise.resolve(name) : askReviewer();
}

export function askReviewer(): Promise<string | null> {
  asking?.(null);
  return new Promise((resolve) => {
    asking = resolve;
    tell();
  });
}

export function answerReviewer(name: string | null): void {
  if (name) nameReviewer(name);
  const resolve = asking;
  asking = null;
  tell();
  resolve?.(name);
}
