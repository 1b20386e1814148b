import { useSyncExternalStore } from 'react';

/** One short sentence on what just happened, shown and read out. */
let sentence = '';
let timer: ReturnType<typeof setTimeout> | undefined;
const listeners = new Set<() => void>();
const set = (text: string): void => {
  sentence = text;
  for (const listener of listeners) listener();
};

export function say(text: string): void {
  set(text);
  clearTimeout(timer);
  timer = setTimeout(() => set(''), 5000);
}

export const useSpoken = (): string =>
  useSyncExternalStore(
    (listener) => {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    () => sentence,
  );
