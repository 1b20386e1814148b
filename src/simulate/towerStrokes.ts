import type { Random } from '../maths/random.ts';
import { add, scale, type Vec3 } from '../maths/vec3.ts';
import { addStroke, type Rgb, type Strokes } from './Strokes.ts';
import type { InventedStructure } from './World.ts';

export const STEEL: Rgb = [150, 154, 156];

/** A lattice tower: four tapering legs with crossed bracing on every face, three pairs of cross-arms, a peak for the earth wire. */
export function addTower(strokes: Strokes, s: InventedStructure, random: Random): void {
  const right = s.rightEnu;
  const ahead: Vec3 = [-right[1], right[0], 0];
  const heavy = s.kind === 'tension' ? 1.25 : 1;
  const at = (levelM: number, r: number, a: number): Vec3 =>
    add(add(s.footEnuM, [0, 0, levelM]), add(scale(right, r), scale(ahead, a)));
  const steel = (): Rgb => {
    const k = 0.86 + 0.22 * random.uniform();
    return [STEEL[0] * k, STEEL[1] * k, STEEL[2] * k];
  };
  const member = (a: Vec3, b: Vec3, radiusM: number) => addStroke(strokes, 'tube', a, b, radiusM * heavy, steel());

  const waistM = s.arms[0]!.levelM - 1.5;
  const top = s.arms[2]!.levelM + 1.6;
  const halfAt = (levelM: number): number => {
    const base = 2.5 * heavy;
    const waist = 0.85 * heavy;
    return levelM < waistM
      ? base + (waist - base) * (levelM / waistM)
      : waist - 0.35 * ((levelM - waistM) / (top - waistM));
  };
  const levels: number[] = [0];
  for (let at = 1.75 * halfAt(0); at < top - 0.8; at += 1.75 * halfAt(at)) levels.push(at);
  levels.push(top);
  const corners = [
    [-1, -1],
    [1, -1],
    [1, 1],
    [-1, 1],
  ] as const;
  for (let i = 0; i + 1 < levels.length; i++) {
    const [low, high] = [levels[i]!, levels[i + 1]!];
    const [hl, hh] = [halfAt(low), halfAt(high)];
    corners.forEach(([r, a], k) => {
      const [r2, a2] = corners[(k + 1) % 4]!;
      member(at(low, r * hl, a * hl), at(high, r * hh, a * hh), 0.075);
      member(at(low, r * hl, a * hl), at(high, r2 * hh, a2 * hh), 0.038);
      member(at(low, r2 * hl, a2 * hl), at(high, r * hh, a * hh), 0.038);
      member(at(high, r * hh, a * hh), at(high, r2 * hh, a2 * hh), 0.035);
    });
  }
  for (const { levelM, halfWidthM } of s.arms) {
    const half = halfAt(levelM);
    const upperM = levelM + 1.25;
    const upperHalf = halfAt(upperM);
    for (const side of [-1, 1]) {
      const tip = at(levelM, side * halfWidthM, 0);
      for (const a of [-1, 1]) {
        member(at(levelM, side * half, a * half), tip, 0.055);
        member(at(upperM, side * upperHalf, a * upperHalf), tip, 0.045);
        for (const [i, share] of [0.25, 0.5, 0.75].entries()) {
          const between = (levelA: number, halfA: number, sh: number): Vec3 =>
            at(levelA + sh * (levelM - levelA), side * (halfA + sh * (halfWidthM - halfA)), a * halfA * (1 - sh));
          member(between(levelM, half, share), between(upperM, upperHalf, share), 0.026);
          member(between(levelM, half, share), between(upperM, upperHalf, [0, 0.25, 0.5][i]!), 0.026);
        }
      }
      for (const share of [0.33, 0.66]) {
        const r = side * (half + share * (halfWidthM - half));
        const w = half * (1 - share);
        member(at(levelM, r, -w), at(levelM, r, w), 0.026);
      }
      // The plate and shackle that the string hangs from.
      addStroke(strokes, 'rod', tip, add(tip, [0, 0, -0.15]), 0.05, [92, 92, 92]);
    }
  }
  const halfTop = halfAt(top);
  for (const [r, a] of corners) member(at(top, r * halfTop, a * halfTop), at(s.heightM, 0, 0), 0.05);
  for (const [r, a] of corners) {
    const half = halfAt(0);
    addStroke(strokes, 'rod', at(-0.3, r * half, a * half), at(0.35, r * half, a * half), 0.4, [158, 156, 148]);
  }
  addStroke(strokes, 'rod', at(3.2, 0.3, halfAt(3.2)), at(3.2, -0.3, halfAt(3.2)), 0.2, [222, 190, 60]);
  addStroke(strokes, 'rod', at(3.2, 0.3, -halfAt(3.2)), at(3.2, -0.3, -halfAt(3.2)), 0.2, [222, 190, 60]);
}
