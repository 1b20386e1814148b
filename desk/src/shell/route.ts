import { useSyncExternalStore } from 'react';

/** Where the desk stands: `#/evidence/d04?t=12` is place `evidence`, item `d04`, and one parameter. */
export interface Route {
  readonly place: string;
  readonly item: string | null;
  readonly parameters: ReadonlyMap<string, string>;
}

export function readRoute(hash: string): Route {
  const [path = '', query = ''] = hash.replace(/^#\/?/, '').split('?');
  const [place = '', item] = path.split('/');
  return {
    place: place || 'line',
    item: item ? decodeURIComponent(item) : null,
    parameters: new Map(new URLSearchParams(query)),
  };
}

export function hashOf(place: string, item?: string | null, parameters: Readonly<Record<string, string>> = {}): string {
  const query = new URLSearchParams(parameters).toString();
  return `#/${place}${item ? `/${encodeURIComponent(item)}` : ''}${query ? `?${query}` : ''}`;
}

let hash = '';
let route: Route = readRoute('');
function routeNow(): Route {
  if (location.hash !== hash) {
    hash = location.hash;
    route = readRoute(hash);
  }
  return route;
}

const subscribe = (listener: () => void): (() => void) => {
  addEventListener('hashchange', listener);
  return () => removeEventListener('hashchange', listener);
};

export const useRoute = (): Route => useSyncExternalStore(subscribe, routeNow);

export function go(place: string, item?: string | null, parameters?: Readonly<Record<string, string>>): void {
  location.hash = hashOf(place, item, parameters);
}

/** The same place with another address, without a step in the browser's history (for what changes while one looks). */
export function goQuietly(place: string, item?: string | null, parameters?: Readonly<Record<string, string>>): void {
  history.replaceState(null, '', hashOf(place, item, parameters));
  dispatchEvent(new HashChangeEvent('hashchange'));
}
