import { useSyncExternalStore } from 'react';

export type Theme = 'day' | 'night';
const KEPT_AS = 'corposant.theme';
const listeners = new Set<() => void>();

const themeNow = (): Theme => (document.documentElement.dataset.theme === 'night' ? 'night' : 'day');

/** The theme chosen before, otherwise that of the system. */
export function startTheme(): void {
  const kept = localStorage.getItem(KEPT_AS);
  const dark = matchMedia('(prefers-color-scheme: dark)').matches;
  document.documentElement.dataset.theme = kept === 'night' || (kept !== 'day' && dark) ? 'night' : 'day';
}

export function changeTheme(theme: Theme): void {
  localStorage.setItem(KEPT_AS, theme);
  document.documentElement.dataset.theme = theme;
  for (const listener of listeners) listener();
}

export const useTheme = (): Theme =>
  useSyncExternalStore((listener) => {
    listeners.add(listener);
    return () => listeners.delete(listener);
  }, themeNow);

/** The colours of the sheet for what is drawn rather than styled. */
export interface Ink {
  readonly paper: string;
  readonly raised: string;
  readonly sunk: string;
  readonly ink: string;
  readonly soft: string;
  readonly mark: string;
  readonly faint: string;
  readonly ultraviolet: string;
  readonly wash: string;
}

export function inkNow(): Ink {
  const style = getComputedStyle(document.documentElement);
  const colour = (name: string): string => style.getPropertyValue(name).trim();
  return {
    paper: colour('--paper'),
    raised: colour('--paper-raised'),
    sunk: colour('--paper-sunk'),
    ink: colour('--ink'),
    soft: colour('--ink-soft'),
    mark: colour('--ink-mark'),
    faint: colour('--ink-faint'),
    ultraviolet: colour('--ultraviolet'),
    wash: colour('--ultraviolet-wash'),
  };
}
