import { useEffect, useRef, useState } from 'react';
import { firstFrom } from '../../overlay/PassEvents.ts';
import { ask } from '../../server/ask.ts';
import { inkNow, useTheme } from '../../shell/theme.ts';
import { useWords } from '../../words/useWords.ts';
import type { Pass } from './Pass.ts';

interface Frame {
  readonly frame: number;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly values: Uint16Array | Uint8Array;
}

/** The ultraviolet frame of the moment as it was recorded, in ink, with the events that were found in it as rings. */
export function UvFrame({ pass, tNs }: { pass: Pass; tNs: number }) {
  const { t, numbers } = useWords();
  const theme = useTheme();
  const [open, setOpen] = useState(false);
  const [got, setGot] = useState<Frame | 'not kept' | null>(null);
  const canvas = useRef<HTMLCanvasElement>(null);
  const times = pass.frames.uv.tNs;
  const number = open ? nearestFrame(times, tNs) : -1;
  const first = number < 0 ? 0 : firstFrom(pass.events, times[number]! - 1);
  const last = number < 0 ? 0 : firstFrom(pass.events, times[number]! + 1);
  useEffect(() => {
    if (number < 0) return;
    const stop = new AbortController();
    ask(`/api/flights/${encodeURIComponent(pass.flight)}/frames/uv/${number}`, { signal: stop.signal })
      .then(async (answer) => {
        const bytes = await answer.arrayBuffer();
        setGot({
          frame: number,
          widthPx: pass.frames.uv.widthPx,
          heightPx: pass.frames.uv.heightPx,
          values: answer.headers.get('x-bit-depth') === '8' ? new Uint8Array(bytes) : new Uint16Array(bytes),
        });
      })
      .catch((error: unknown) => {
        if (!(error instanceof DOMException)) setGot('not kept');
      });
    return () => stop.abort();
  }, [number, pass]);
  useEffect(() => {
    const element = canvas.current;
    if (!element || !got || got === 'not kept') return;
    const { widthPx, heightPx, values } = got;
    element.width = widthPx;
    element.height = heightPx;
    const c = element.getContext('2d')!;
    const image = c.createImageData(widthPx, heightPx);
    const words = new Uint32Array(image.data.buffer);
    const night = theme === 'night';
    // From the level of half the pixels to that of the brightest few: a dark frame with speckles.
    const sorted = values.slice().sort();
    const low = sorted[Math.floor(sorted.length * 0.5)] ?? 0;
    const high = Math.max(low + 8, sorted[Math.floor(sorted.length * 0.9998)] ?? 0);
    for (let i = 0; i < words.length; i++) {
      const share = Math.min(1, Math.max(0, (values[i]! - low) / (high - low)));
      const grey = Math.round(night ? 255 * share : 255 * (1 - share));
      words[i] = (0xff << 24) | (grey << 16) | (grey << 8) | grey;
    }
    c.putImageData(image, 0, 0);
    c.strokeStyle = inkNow().ultraviolet;
    c.lineWidth = 2;
    for (let i = first; i < last; i++) {
      c.beginPath();
      c.arc(pass.events.uvPx[2 * i]!, pass.events.uvPx[2 * i + 1]!, 8, 0, 2 * Math.PI);
      c.stroke();
    }
  }, [got, theme, first, last, pass]);
  return (
    <details className="uv-frame" onToggle={(event) => setOpen((event.currentTarget as HTMLDetailsElement).open)}>
      <summary>{t('evidence.uvFrame')}</summary>
      {got === 'not kept' ? (
        <p className="small soft">{t('evidence.uvFrameNone')}</p>
      ) : (
        number >= 0 && (
          <>
            <canvas ref={canvas} role="img" aria-label={t('evidence.uvFrame')} />
            <p className="small soft">
              {t('evidence.uvFrameOf', { n: number, events: numbers.integer(last - first) })}
            </p>
          </>
        )
      )}
    </details>
  );
}

function nearestFrame(times: readonly number[], tNs: number): number {
  let low = 0;
  let high = times.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle]! < tNs) low = middle + 1;
    else high = middle;
  }
  return low > 0 && tNs - times[low - 1]! < times[low]! - tNs ? low - 1 : low;
}
