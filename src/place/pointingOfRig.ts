import { Matrix } from 'ml-matrix';
import { multiplyVec } from '../maths/mat3.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { SystematicErrors } from './SystematicErrors.ts';
import { RIG_COUNT } from './sightingsTogether.ts';

/** Places among the errors of a rig. */
const TIME = 6;
const PRINCIPAL_POINT = { u: 9, v: 10 } as const;

/**
 * From the errors of a rig to how its view is turned in the middle of the picture (three, about body axes, rad) and to its time offset (s):
 * 4 x RIG_COUNT. A principal point found too far to the right by one pixel turns every ray there left by 1 / f.
 */
export function pointingOfRig({ mounting, lens }: Pick<SystematicErrors, 'mounting' | 'lens'>): Matrix {
  const out = Matrix.zeros(4, RIG_COUNT);
  const turnedBy = (turnUv: Vec3, column: number): void => {
    multiplyVec(mounting.bodyFromUv.rotation, turnUv).forEach((value, row) => {
      out.set(row, column, value);
    });
  };
  for (let axis = 0; axis < 3; axis++) out.set(axis, axis, 1);
  turnedBy([0, -1 / lens.fxPx, 0], PRINCIPAL_POINT.u);
  turnedBy([1 / lens.fyPx, 0, 0], PRINCIPAL_POINT.v);
  out.set(3, TIME, 1);
  return out;
}
