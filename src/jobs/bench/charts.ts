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

/** Points with, per bin, the root mean square as a line. */
export function scatterChart(
  points: readonly (readonly [x: number, y: number])[],
  axes: { readonly x: string; readonly y: string; readonly fromX: number; readonly toX: number; readonly toY: number },
  level: { readonly at: number; readonly label: string } | null,
): string {
  const [w, h, left, bottom] = [420, 200, 44, 34];
  const sx = (x: number): number => left + ((x - axes.fromX) / (axes.toX - axes.fromX)) * (w - left - 6);
  const sy = (y: number): number => h - (Math.min(y, axes.toY) / axes.toY) * (h - 8);
  const dots = points.map(([x, y]) => `<circle cx="${fixed(sx(x))}" cy="${fixed(sy(y))}" r="1"/>`);
  const bins = 12;
  const sums = new Float64Array(bins);
  const counts = new Float64Array(bins);
  for (const [x, y] of points) {
    const bin = Math.min(bins - 1, Math.max(0, Math.floor(((x - axes.fromX) / (axes.toX - axes.fromX)) * bins)));
    sums[bin] += y * y;
    counts[bin]++;
  }
  const steps: string[] = [];
  for (let i = 0; i < bins; i++) {
    if (counts[i] < 5) continue;
    const y = fixed(sy(Math.sqrt(sums[i] / counts[i])));
    const edge = (j: number): string => fixed(sx(axes.fromX + (j / bins) * (axes.toX - axes.fromX)));
    steps.push(`M${edge(i)} ${y}L${edge(i + 1)} ${y}`);
  }
  const yTicks = ticksUpTo(axes.toY).map(
    (t) =>
      `<path d="M${left} ${fixed(sy(t))}H${w - 6}" stroke="${FAINT}" stroke-width="0.4"/><text x="${left - 6}" y="${fixed(sy(t) + 4)}" text-anchor="end">${t}</text>`,
  );
  const span = axes.toX - axes.fromX;
  const xTicks = ticksUpTo(axes.toX)
    .filter((t) => t >= axes.fromX - 1e-9 * span)
    .map(
      (t) =>
        `<path d="M${fixed(sx(t))} ${h}v4" stroke="${INK}"/><text x="${fixed(sx(t))}" y="${h + 16}" text-anchor="middle">${t}</text>`,
    );
  const rule = level
    ? `<path d="M${left} ${fixed(sy(level.at))}H${w - 6}" stroke="${INK}" stroke-dasharray="5 3"/><text x="${w - 8}" y="${fixed(sy(level.at) - 4)}" text-anchor="end">${level.label}</text>`
    : '';
  return `<svg viewBox="0 -6 ${w} ${h + bottom + 8}" role="img">${yTicks.join('')}<path d="M${left} ${h}H${w - 6}" stroke="${INK}"/>${xTicks.join('')}
<g fill="${FAINT}">${dots.join('')}</g><path d="${steps.join('')}" stroke="${INK}" stroke-width="2" fill="none"/>${rule}
<text x="${(w + left) / 2}" y="${h + 31}" text-anchor="middle">${axes.x}</text><text transform="translate(11 ${h / 2}) rotate(-90)" text-anchor="middle">${axes.y}</text></svg>`;
}
