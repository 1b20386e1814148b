import type { Vec3 } from '../../../src/maths/vec3.ts';

/** Way along the line and distance to the right of it, in metres, as walked from the first structure to the last. */
export interface Chainage {
  readonly lengthM: number;
  /** Along and across of a point, by the leg of the line that it is nearest to. */
  locate(pointEnuM: Vec3): readonly [alongM: number, acrossM: number];
}

/** Along straight legs between the structures' feet in the order given. With fewer than two structures, along is east. */
export function chainageOf(feetEnuM: readonly Vec3[]): Chainage {
  const legs: { e: number; n: number; de: number; dn: number; from: number; length: number }[] = [];
  let lengthM = 0;
  for (let i = 0; i + 1 < feetEnuM.length; i++) {
    const [e, n] = feetEnuM[i]!;
    const [e2, n2] = feetEnuM[i + 1]!;
    const length = Math.hypot(e2 - e, n2 - n);
    if (length === 0) continue;
    legs.push({ e, n, de: (e2 - e) / length, dn: (n2 - n) / length, from: lengthM, length });
    lengthM += length;
  }
  if (legs.length === 0) {
    const [e = 0, n = 0] = feetEnuM[0] ?? [];
    return { lengthM: 0, locate: (p) => [p[0] - e, n - p[1]] };
  }
  return {
    lengthM,
    locate: (p) => {
      let best: readonly [number, number] = [0, 0];
      let bestGap = Number.POSITIVE_INFINITY;
      legs.forEach((leg, i) => {
        const x = p[0] - leg.e;
        const y = p[1] - leg.n;
        const along = x * leg.de + y * leg.dn;
        const across = x * leg.dn - y * leg.de;
        // Beyond its ends only the first and the last leg go on.
        const over = Math.max(i === 0 ? 0 : -along, i === legs.length - 1 ? 0 : along - leg.length, 0);
        const gap = Math.hypot(across, over);
        if (gap < bestGap) {
          bestGap = gap;
          best = [
            leg.from + Math.min(Math.max(along, i === 0 ? along : 0), i === legs.length - 1 ? along : leg.length),
            across,
          ];
        }
      });
      return best;
    },
  };
}
