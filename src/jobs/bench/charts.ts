/** Charts of the certificate as SVG text. One accent, violet, for what the ultraviolet camera saw; all else is ink. */
export const INK = '#1d2026';
export const FAINT = '#b9b6ad';
export const VIOLET = '#6b3fb0';

const fixed = (x: number): string => (Math.abs(x) < 1e-9 ? '0' : x.toFixed(2));

/** Round numbers that part [0, most] into about five. */
export function ticksUpTo(most: number): number[] {
  const raw = most / 5;
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= raw)!;
  const ticks: number[] = [];
  for (let i = 0; i * step <= most * 1.0001; i++) ticks.push(Number((i * step).toPrecision(12)));
  return ticks;
}

export interface Arrow {
  readonly u: number;
  readonly v: number;
  readonly du: number;
  readonly dv: number;
}

/** Arrows over the frame of the uv image, drawn `magnified` times as long as they are, with a scale of `scalePx`. */
export function arrowChart(
  size: { readonly widthPx: number; readonly heightPx: number },
  arrows: readonly Arrow[],
  magnified: number,
  scalePx: number,
  hull: readonly (readonly [number, number])[],
): string {
  const k = 420 / size.widthPx;
  const h = size.heightPx * k;
  const lines = arrows.map(({ u, v, du, dv }) => {
    const [x, y] = [u * k, v * k];
    const [ex, ey] = [x + du * k * magnified, y + dv * k * magnified];
    return `<path d="M${fixed(x)} ${fixed(y)}L${fixed(ex)} ${fixed(ey)}"/><circle cx="${fixed(x)}" cy="${fixed(y)}" r="0.9"/>`;
  });
  const outline = hull.map(([u, v]) => `${fixed(u * k)},${fixed(v * k)}`).join(' ');
  const bar = scalePx * k * magnified;
  return `<svg viewBox="-2 -2 424 ${fixed(h + 30)}" role="img">
<rect x="0" y="0" width="420" height="${fixed(h)}" fill="none" stroke="${FAINT}"/>
<polygon points="${outline}" fill="none" stroke="${VIOLET}" stroke-dasharray="4 3"/>
<g stroke="${INK}" stroke-width="0.7" fill="${INK}">${lines.join('')}</g>
<path d="M4 ${fixed(h + 14)}h${fixed(bar)}" stroke="${INK}" stroke-width="1.6"/>
<text x="${fixed(bar + 10)}" y="${fixed(h + 18)}">${scalePx} px</text></svg>`;
}

const BINS = 12;

/**
 * Points about zero with, per bin, their mean as a heavy line and the scatter about it as a band; what lies beyond the axis is
 * drawn at its end.
 * @param level the standard deviation that noise alone makes, drawn dashed to both sides
 */
export function signedChart(
  points: readonly (readonly [x: number, y: number])[],
  axes: { readonly x: string; readonly y: string; readonly toX: number; readonly toY: number },
  level: number | null,
): string {
  const [w, h, left, bottom] = [420, 170, 48, 34];
  const sx = (x: number): number => left + (x / axes.toX) * (w - left - 6);
  const sy = (y: number): number => h / 2 - (Math.max(-axes.toY, Math.min(axes.toY, y)) / axes.toY) * (h / 2 - 3);
  // More dots than these hide each other and swell the file.
  const every = Math.max(1, Math.ceil(points.length / 1500));
  const dots = points
    .filter((_, i) => i % every === 0)
    .map(([x, y]) => `<circle cx="${fixed(sx(x))}" cy="${fixed(sy(y))}" r="1"/>`);
  const bins = Array.from({ length: BINS }, () => ({ n: 0, sum: 0, squares: 0 }));
  for (const [x, y] of points) {
    const bin = bins[Math.min(BINS - 1, Math.max(0, Math.floor((x / axes.toX) * BINS)))];
    bin.n++;
    bin.sum += y;
    bin.squares += y * y;
  }
  const means: string[] = [];
  const bands: string[] = [];
  bins.forEach(({ n, sum, squares }, i) => {
    if (n < 5) return;
    const mean = sum / n;
    const spread = Math.sqrt(Math.max(0, squares / n - mean * mean));
    const [from, to] = [sx((i / BINS) * axes.toX), sx(((i + 1) / BINS) * axes.toX)];
    const [high, low] = [sy(mean + spread), sy(mean - spread)];
    bands.push(
      `<rect x="${fixed(from)}" y="${fixed(high)}" width="${fixed(to - from)}" height="${fixed(low - high)}"/>`,
    );
    means.push(`M${fixed(from)} ${fixed(sy(mean))}L${fixed(to)} ${fixed(sy(mean))}`);
  });
  const ticks = ticksUpTo(2 * axes.toY).flatMap((t) => (t > axes.toY ? [] : t === 0 ? [0] : [t, -t]));
  const yTicks = ticks.map(
    (t) =>
      `<path d="M${left} ${fixed(sy(t))}H${w - 6}" stroke="${FAINT}" stroke-width="${t === 0 ? 0.8 : 0.3}"/><text x="${left - 6}" y="${fixed(sy(t) + 4)}" text-anchor="end">${t < 0 ? `−${-t}` : t}</text>`,
  );
  const xTicks = ticksUpTo(axes.toX).map(
    (t) =>
      `<path d="M${fixed(sx(t))} ${h}v4" stroke="${INK}"/><text x="${fixed(sx(t))}" y="${h + 16}" text-anchor="middle">${t}</text>`,
  );
  const dashes = (level === null ? [] : [level, -level]).map(
    (y) => `<path d="M${left} ${fixed(sy(y))}H${w - 6}" stroke="${INK}" stroke-width="0.7" stroke-dasharray="5 3"/>`,
  );
  const rules =
    level === null ? '' : `${dashes.join('')}<text x="${w - 8}" y="10" text-anchor="end">dashed: noise alone</text>`;
  return `<svg viewBox="0 -6 ${w} ${h + bottom + 8}" role="img">${yTicks.join('')}<path d="M${left} ${h}H${w - 6}" stroke="${INK}"/>${xTicks.join('')}
<g fill="${FAINT}">${dots.join('')}</g><g fill="${INK}" fill-opacity="0.13">${bands.join('')}</g><path d="${means.join('')}" stroke="${INK}" stroke-width="2" fill="none"/>${rules}
<text x="${(w + left) / 2}" y="${h + 31}" text-anchor="middle">${axes.x}</text><text transform="translate(11 ${h / 2}) rotate(-90)" text-anchor="middle">${axes.y}</text></svg>`;
}
