import { multiplyVec, transpose } from '../maths/mat3.ts';
import { inverse, type RigidTransform } from '../maths/rigidTransform.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { HAZE, hazeAt } from './background.ts';
import { type Canvas, type Paint, paintBush, paintTube } from './paintStroke.ts';
import { SHAPE, STROKE_LENGTH } from './Strokes.ts';
import { seenAt, type TrueLens } from './TrueLens.ts';

const DISC_HALF_THICKNESS_M = 0.028;

/** Paints strokes as a camera sees them, far ones first. `rows` as in Strokes; `tile` gives bushes their leaves. */
export function paintStrokes(
  canvas: Canvas,
  rows: Float64Array,
  enuFromCamera: RigidTransform,
  lens: TrueLens,
  sunEnu: Vec3,
  tile: Float32Array,
): void {
  const { rotation: r, translation: t } = inverse(enuFromCamera);
  const count = rows.length / STROKE_LENGTH;
  const depth = new Float64Array(count);
  const visible: number[] = [];
  const wideX = (0.62 * lens.widthPx) / lens.fxPx;
  const wideY = (0.65 * lens.heightPx) / lens.fyPx;
  for (let i = 0; i < count; i++) {
    const at = i * STROKE_LENGTH;
    const [e, n, u] = [
      (rows[at]! + rows[at + 3]!) / 2,
      (rows[at + 1]! + rows[at + 4]!) / 2,
      (rows[at + 2]! + rows[at + 5]!) / 2,
    ];
    const z = r[6] * e + r[7] * n + r[8] * u + t[2];
    if (z < 3) continue;
    const reach = 4 / z;
    const x = (r[0] * e + r[1] * n + r[2] * u + t[0]) / z;
    if (Math.abs(x) > wideX + reach) continue;
    const y = (r[3] * e + r[4] * n + r[5] * u + t[1]) / z;
    if (Math.abs(y) > wideY + reach) continue;
    // A shed hides the pin that it sits on, though their middles are equally far.
    depth[i] = rows[at + 10] === SHAPE.disc ? z - 0.15 : z;
    visible.push(i);
  }
  visible.sort((a, b) => depth[b]! - depth[a]!);
  const sunCam = multiplyVec(transpose(enuFromCamera.rotation), sunEnu);
  const paint: Paint = { red: 0, green: 0, blue: 0, facing: 0, sideways: 0 };
  const inCamera = (at: number): Vec3 => [
    r[0] * rows[at]! + r[1] * rows[at + 1]! + r[2] * rows[at + 2]! + t[0],
    r[3] * rows[at]! + r[4] * rows[at + 1]! + r[5] * rows[at + 2]! + t[1],
    r[6] * rows[at]! + r[7] * rows[at + 1]! + r[8] * rows[at + 2]! + t[2],
  ];
  for (const i of visible) {
    const at = i * STROKE_LENGTH;
    const a = inCamera(at);
    const shape = rows[at + 10]!;
    const pa = seenAt(lens, a);
    if (!pa) continue;
    const pxPerM = lens.fxPx / depth[i]!;
    const haze = hazeAt(depth[i]!);
    const mixed = (k: number) => rows[at + 7 + k]! + haze * (HAZE[k as 0 | 1 | 2] - rows[at + 7 + k]!);
    paint.red = mixed(0);
    paint.green = mixed(1);
    paint.blue = mixed(2);
    if (shape === SHAPE.bush) {
      paintBush(canvas, pa[0], pa[1], rows[at + 6]! * pxPerM, paint, tile, i * 37);
      continue;
    }
    const b = inCamera(at + 3);
    const pb = seenAt(lens, b);
    if (!pb) continue;
    const [dx, dy] = [pb[0] - pa[0], pb[1] - pa[1]];
    const length = Math.hypot(dx, dy) || 1;
    // Light from the sky all round, and from the sun where the surface is turned to it: towards us, or to one side.
    paint.facing = 0.72 + 0.36 * Math.max(0, -sunCam[2]);
    if (shape === SHAPE.disc) {
      const [nx, ny] = [-dy / length, dx / length];
      const radius = rows[at + 6]! * pxPerM;
      const axisCam: Vec3 = [b[0] - a[0], b[1] - a[1], b[2] - a[2]];
      const range = Math.hypot(a[0], a[1], a[2]);
      const openness = Math.abs(axisCam[0] * a[0] + axisCam[1] * a[1] + axisCam[2] * a[2]) / range;
      const thick = Math.min(radius, Math.max(DISC_HALF_THICKNESS_M * pxPerM, radius * openness));
      const arm = radius - thick;
      paint.sideways = (Math.abs(nx) > Math.abs(ny) ? Math.sign(-dy || 1) : Math.sign(dx || 1)) * -0.3;
      paintTube(canvas, pa[0] - nx * arm, pa[1] - ny * arm, pa[0] + nx * arm, pa[1] + ny * arm, thick, paint, true);
      continue;
    }
    // The side of the stroke that `sideways` brightens: the one of growing row (flat strokes) or column (steep ones).
    const flat = Math.abs(dx) >= Math.abs(dy);
    paint.sideways = flat ? 0.42 * sunCam[1] : -0.42 * sunCam[0];
    paintTube(canvas, pa[0], pa[1], pb[0], pb[1], rows[at + 6]! * pxPerM, paint, shape === SHAPE.rod);
  }
}
