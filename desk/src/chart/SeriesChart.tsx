import 'uplot/dist/uPlot.min.css';
import './chart.css';
import { useEffect, useRef } from 'react';
import uPlot from 'uplot';
import { inkNow, useTheme } from '../shell/theme.ts';
import { useWords } from '../words/useWords.ts';

export interface Series {
  readonly label: string;
  readonly values: readonly (number | null)[];
  /** Least and most of each step, drawn as a band. */
  readonly least?: readonly (number | null)[];
  readonly most?: readonly (number | null)[];
  /** Ultraviolet has the one accent colour; a second line is dashed, not coloured. */
  readonly ultraviolet?: boolean;
  readonly dashed?: boolean;
}

/** Lines over time. Dragging over it asks for a shorter stretch, a double click for the whole. */
export function SeriesChart({
  title,
  unit,
  tS,
  series,
  digits = 2,
  onSpan,
  onWhole,
}: {
  title: string;
  unit: string;
  tS: readonly number[];
  series: readonly Series[];
  digits?: number;
  onSpan: (fromS: number, toS: number) => void;
  onWhole: () => void;
}) {
  const { t, numbers } = useWords();
  const theme = useTheme();
  const box = useRef<HTMLDivElement>(null);
  // biome-ignore lint/correctness/useExhaustiveDependencies: the theme changes the colours that are read in here
  useEffect(() => {
    const into = box.current;
    if (!into) return;
    const ink = inkNow();
    const data: (number | null)[][] = [[...tS]];
    const lines: uPlot.Series[] = [{}];
    const bands: uPlot.Band[] = [];
    for (const one of series) {
      const stroke = one.ultraviolet ? ink.ultraviolet : ink.ink;
      const { least, most } = one;
      if (least && most && least.some((x, i) => x !== most[i])) {
        bands.push({ series: [data.length, data.length + 1], fill: one.ultraviolet ? ink.wash : ink.faint });
        data.push([...most], [...least]);
        lines.push({ width: 0, points: { show: false } }, { width: 0, points: { show: false } });
      }
      data.push([...one.values]);
      lines.push({
        label: one.label,
        stroke,
        width: 1.25,
        // A step without a frame is no gap of the stream: gaps show in the intervals, and are listed.
        spanGaps: true,
        points: { show: tS.length < 120, size: 4 },
        ...(one.dashed ? { dash: [5, 3] } : {}),
      });
    }
    const axis = {
      stroke: ink.soft,
      grid: { stroke: ink.faint, width: 1 },
      ticks: { stroke: ink.faint, width: 1 },
      font: '12px Inter, sans-serif',
    };
    const plot = new uPlot(
      {
        width: into.clientWidth,
        height: 150,
        padding: [8, 8, 0, 0],
        legend: { show: false },
        cursor: { drag: { x: true, y: false, setScale: false } },
        scales: { x: { time: false } },
        axes: [{ ...axis }, { ...axis, size: 64, space: 22 }],
        series: lines,
        bands,
        hooks: {
          setSelect: [
            (u) => {
              if (u.select.width < 4) return;
              onSpan(u.posToVal(u.select.left, 'x'), u.posToVal(u.select.left + u.select.width, 'x'));
            },
          ],
        },
      },
      data as uPlot.AlignedData,
      into,
    );
    const onDouble = (): void => onWhole();
    into.addEventListener('dblclick', onDouble);
    const watcher = new ResizeObserver(() => plot.setSize({ width: into.clientWidth, height: 150 }));
    watcher.observe(into);
    return () => {
      watcher.disconnect();
      into.removeEventListener('dblclick', onDouble);
      plot.destroy();
    };
  }, [tS, series, theme, onSpan, onWhole]);
  const all = series
    .flatMap(({ values, least, most }) => [...values, ...(least ?? []), ...(most ?? [])])
    .filter((x) => x !== null);
  const told =
    all.length === 0
      ? title
      : t('flight.chartOf', {
          what: title,
          unit,
          least: numbers.fixed(
            all.reduce((a, b) => Math.min(a, b)),
            digits,
          ),
          most: numbers.fixed(
            all.reduce((a, b) => Math.max(a, b)),
            digits,
          ),
        });
  return (
    <figure className="series-chart">
      <figcaption>
        {title}
        {unit !== '' && <span className="soft">, {unit}</span>}
        {series.length > 1 && (
          <span className="soft small">
            {' '}
            {series.map(({ label, dashed }) => `${dashed ? '- -' : '—'} ${label}`).join('   ')}
          </span>
        )}
      </figcaption>
      <div ref={box} role="img" aria-label={told} />
    </figure>
  );
}
