import type { RayBundle } from './RayBundle.ts';

/** Within this time a trajectory's errors stay alike to a tenth of their deviation, where they hang together for a minute. */
const STRETCH_S = 0.5;

/** A pass' rays in stretches of equal time, at most half a second long, in order; none is empty. */
export function stretchesOf({ rays }: RayBundle): RayBundle[] {
  let first = Number.POSITIVE_INFINITY;
  let last = Number.NEGATIVE_INFINITY;
  for (const { motion } of rays) {
    first = Math.min(first, motion.tNs);
    last = Math.max(last, motion.tNs);
  }
  const count = Math.max(1, Math.ceil((last - first) / (STRETCH_S * 1e9)));
  const lengthNs = (last - first) / count;
  const parts: RayBundle['rays'][number][][] = Array.from({ length: count }, () => []);
  for (const ray of rays) {
    const at = lengthNs > 0 ? Math.min(count - 1, Math.floor((ray.motion.tNs - first) / lengthNs)) : 0;
    parts[at].push(ray);
  }
  return parts.flatMap((part, i) => (part.length > 0 ? [{ rays: part, tNs: first + (i + 0.5) * lengthNs }] : []));
}
