import { tileAt } from './cloudTile.ts';

/** An RGB picture that strokes are painted on. */
export interface Canvas {
  readonly rgb: Uint8ClampedArray;
  readonly widthPx: number;
  readonly heightPx: number;
}

/** Colour of a stroke and how it is lit: full light where the surface faces us, and what the turn towards one side adds. */
export interface Paint {
  red: number;
  green: number;
  blue: number;
  facing: number;
  sideways: number;
}

/** Half-width of the soft edge, px: the sharpness of the lens. */
const EDGE_PX = 0.75;

/**
 * Paints a tube from a to b of the given radius, px, shaded across as a cylinder. With flat ends a pixel column (or row, for
 * steep strokes) belongs to exactly one of two joined strokes, so that thin wires have no beads at their joints.
 */
export function paintTube(
  canvas: Canvas,
  ax: number,
  ay: number,
  bx: number,
  by: number,
  radiusPx: number,
  paint: Paint,
  round: boolean,
): void {
  const { rgb, widthPx, heightPx } = canvas;
  const flat = Math.abs(bx - ax) >= Math.abs(by - ay);
  // (p, q): along and across the main axis of the picture.
  let [pa, qa, pb, qb] = flat ? [ax, ay, bx, by] : [ay, ax, by, bx];
  const flipped = pa > pb;
  if (flipped) [pa, qa, pb, qb] = [pb, qb, pa, qa];
  const dp = pb - pa;
  const dq = qb - qa;
  const length = Math.hypot(dp, dq);
  if (length < 1e-6 && !round) return;
  const [cp, cq] = length < 1e-6 ? [1, 0] : [dp / length, dq / length];
  const effective = Math.max(radiusPx, EDGE_PX);
  const strength = Math.min(1, radiusPx / EDGE_PX);
  const outer = effective + EDGE_PX;
  const spread = outer / Math.max(0.7, cp);
  const cap = round ? outer : 0;
  const pMax = (flat ? widthPx : heightPx) - 1;
  const qMax = (flat ? heightPx : widthPx) - 1;
  const pFrom = Math.max(0, Math.ceil(pa - cap));
  const pTo = Math.min(pMax, round ? Math.floor(pb + cap) : Math.ceil(pb) - 1);
  const [pStep, qStep] = flat ? [3, 3 * widthPx] : [3 * widthPx, 3];
  const side = (flat ? 1 : -1) * paint.sideways;
  for (let p = pFrom; p <= pTo; p++) {
    const middle = qa + (cp > 1e-6 ? ((Math.min(pb, Math.max(pa, p)) - pa) * cq) / cp : 0);
    const qFrom = Math.max(0, Math.ceil(middle - spread));
    const qTo = Math.min(qMax, Math.floor(middle + spread));
    for (let q = qFrom; q <= qTo; q++) {
      const across = (q - qa) * cp - (p - pa) * cq;
      let away = Math.abs(across);
      if (round) {
        const along = (p - pa) * cp + (q - qa) * cq;
        if (along < 0) away = Math.hypot(across, along);
        else if (along > length) away = Math.hypot(across, along - length);
      }
      const cover = strength * Math.min(1, (outer - away) / (2 * EDGE_PX));
      if (cover <= 0) continue;
      const w = Math.max(-1, Math.min(1, across / effective));
      const light = paint.facing * Math.sqrt(1 - 0.9 * w * w) + side * w;
      blend(rgb, p * pStep + q * qStep, paint, Math.max(0.25, light), cover);
    }
  }
}

/** A bush: a ragged ball, light from above. */
export function paintBush(
  canvas: Canvas,
  x: number,
  y: number,
  radiusPx: number,
  paint: Paint,
  tile: Float32Array,
  key: number,
): void {
  const { rgb, widthPx, heightPx } = canvas;
  const top = Math.max(0, Math.floor(y - 1.2 * radiusPx));
  const bottom = Math.min(heightPx - 1, Math.ceil(y + 0.8 * radiusPx));
  const left = Math.max(0, Math.floor(x - 1.5 * radiusPx));
  const right = Math.min(widthPx - 1, Math.ceil(x + 1.5 * radiusPx));
  const grain = 90 / (radiusPx + 2);
  for (let v = top; v <= bottom; v++) {
    for (let u = left; u <= right; u++) {
      const leaf = tileAt(tile, (u - x) * grain + key, (v - y) * grain + 3 * key);
      const away = Math.hypot((u - x) / 1.25, v > y ? (v - y) * 1.7 : v - y) / radiusPx + 0.75 * (leaf - 0.5);
      const cover = Math.min(1, (1 - away) * (1 + radiusPx / 3));
      if (cover <= 0) continue;
      blend(rgb, 3 * (v * widthPx + u), paint, 1.05 - (0.45 * (v - y)) / radiusPx + 0.7 * (leaf - 0.5), 0.95 * cover);
    }
  }
}

function blend(rgb: Uint8ClampedArray, at: number, paint: Paint, light: number, cover: number): void {
  rgb[at] = rgb[at]! + cover * (paint.red * light - rgb[at]!);
  rgb[at + 1] = rgb[at + 1]! + cover * (paint.green * light - rgb[at + 1]!);
  rgb[at + 2] = rgb[at + 2]! + cover * (paint.blue * light - rgb[at + 2]!);
}
