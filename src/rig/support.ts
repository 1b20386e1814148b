import type { Support } from './Registration.ts';

export type SupportVerdict =
  | 'supported'
  | 'no bench run'
  | 'outside the region of the image that the bench run covered'
  | 'nearer than the bench run'
  | 'farther than the bench run can tell';

/** Convex hull, counter-clockwise as seen with u to the right and v down. Source: Andrew's monotone chain (from memory). */
export function convexHull(points: readonly (readonly [number, number])[]): [number, number][] {
  const sorted = points.map(([u, v]) => [u, v] as [number, number]).sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  if (sorted.length < 3) return sorted;
  const half = (list: [number, number][]): [number, number][] => {
    const chain: [number, number][] = [];
    for (const p of list) {
      while (chain.length >= 2 && turn(chain[chain.length - 2], chain[chain.length - 1], p) <= 0) chain.pop();
      chain.push(p);
    }
    chain.pop();
    return chain;
  };
  return [...half(sorted), ...half(sorted.reverse())];
}

const turn = (a: readonly [number, number], b: readonly [number, number], c: readonly [number, number]): number =>
  (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);

/**
 * Whether the bench run's data stand behind the mapping at a uv pixel and inverse range.
 * In range the mapping is linear in inverse range but for a small second-order term, so it may be carried as far beyond
 * the recorded span of inverse range as that span is wide; 10 % of a single range is a span of its own.
 */
export function supportAt(support: Support, u: number, v: number, inverseRangePerM: number): SupportVerdict {
  const hull = support.uvHullPx;
  if (hull.length < 3) return 'no bench run';
  for (let i = 0; i < hull.length; i++)
    if (turn(hull[i], hull[(i + 1) % hull.length], [u, v]) < 0)
      return 'outside the region of the image that the bench run covered';
  const near = 1 / support.nearestM;
  const far = 1 / support.farthestM;
  const reach = Math.max(near - far, 0.1 * near);
  if (inverseRangePerM > 1.1 * near) return 'nearer than the bench run';
  return inverseRangePerM < far - reach ? 'farther than the bench run can tell' : 'supported';
}
