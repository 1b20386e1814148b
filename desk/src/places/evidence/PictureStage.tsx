import { useCallback, useEffect, useLayoutEffect, useRef, useState } from 'react';
import type { LookUpTable } from '../../../../src/rig/lookUpTable.ts';
import { canDrawOnGpu, OverlayRenderer } from '../../overlay/OverlayRenderer.ts';
import {
  type OverlayDrawer,
  type OverlayEvents,
  type PictureView,
  rgbOf,
  screenOfU,
  screenOfV,
  uOfScreen,
  vOfScreen,
} from '../../overlay/OverlayScene.ts';
import { PlainOverlay } from '../../overlay/PlainOverlay.ts';
import { useTheme } from '../../shell/theme.ts';
import { useWords } from '../../words/useWords.ts';
import { StageMarks } from './StageMarks.tsx';
import type { StageSettings } from './StageSettings.ts';

interface Props {
  readonly drawing: {
    readonly picture: ImageBitmap | null;
    readonly events: OverlayEvents | null;
    readonly inverseRangePerM: number | null;
    readonly kernelPx: number;
    readonly levels: readonly number[];
    readonly trueRangeM: number;
  };
  readonly table: LookUpTable | null;
  /** Of the part of the full colour image that can be looked at. */
  readonly pictureSize: { readonly widthPx: number; readonly heightPx: number };
  /** Where its first pixel lies in the full colour image. */
  readonly pictureFrom?: readonly [number, number];
  /** Corner of what is shown at first, where that is not the picture's own. */
  readonly lookFrom?: readonly [number, number];
  readonly settings: StageSettings;
  readonly ellipse: { u: number; v: number; a: number; b: number; angleDeg: number } | null;
  readonly focalPx: number | null;
  readonly measured: readonly (readonly [number, number])[];
  readonly onPointer?: (px: readonly [number, number] | null) => void;
  readonly onPoint: ((px: readonly [number, number]) => void) | null;
  readonly onStep?: (by: number) => void;
  /** What one comes to see: shown large at first, this many colour pixels high. */
  readonly closeUp?: { readonly u: number; readonly v: number; readonly heightPx: number } | null;
  readonly note: string | null;
  readonly waiting: boolean;
}

const ORIGIN: readonly [number, number] = [0, 0];
const MOST_SCALE = 40;
/** Bright violet on a dark halo reads on sky and on steel alike; the picture is the ground in both themes. */
const VIOLET = rgbOf('#6d1fc0');
const VIOLET_NIGHT = rgbOf('#c79bff');
const HALO = rgbOf('#ffffff');
const HALO_NIGHT = rgbOf('#0b0b0c');

/** The picture with its overlay: moved and enlarged by pointer, fingers and keys. */
export function PictureStage(props: Props) {
  const { drawing, table, pictureSize, settings, onPointer, onPoint } = props;
  const from = props.pictureFrom ?? ORIGIN;
  const lookFrom = props.lookFrom ?? from;
  const { t } = useWords();
  const theme = useTheme();
  const box = useRef<HTMLDivElement>(null);
  const canvas = useRef<HTMLCanvasElement>(null);
  const drawer = useRef<((OverlayRenderer | PlainOverlay) & OverlayDrawer) | null>(null);
  const [plain, setPlain] = useState(false);
  const [view, setView] = useState<PictureView | null>(null);
  const viewNow = useRef<PictureView | null>(null);
  viewNow.current = view;

  const showAll = useCallback(() => {
    const { clientWidth: w, clientHeight: h } = box.current!;
    setView({
      centreU: lookFrom[0] + (pictureSize.widthPx - 1) / 2,
      centreV: lookFrom[1] + (pictureSize.heightPx - 1) / 2,
      scale: Math.min(w / pictureSize.widthPx, h / pictureSize.heightPx),
      widthPx: w,
      heightPx: h,
    });
  }, [pictureSize.widthPx, pictureSize.heightPx, lookFrom]);

  const closeUp = props.closeUp ?? null;
  const goClose = () => {
    const { clientWidth: w, clientHeight: h } = box.current!;
    if (closeUp)
      setView({
        centreU: closeUp.u,
        centreV: closeUp.v,
        scale: Math.min(MOST_SCALE, h / closeUp.heightPx),
        widthPx: w,
        heightPx: h,
      });
  };
  const start = useRef(showAll);
  start.current = closeUp ? goClose : showAll;

  useLayoutEffect(() => {
    const element = box.current!;
    const measure = () => {
      const { clientWidth: w, clientHeight: h } = element;
      if (w === 0 || h === 0) return;
      const ratio = Math.min(devicePixelRatio, 2);
      canvas.current!.width = Math.round(w * ratio);
      canvas.current!.height = Math.round(h * ratio);
      if (viewNow.current) setView({ ...viewNow.current, widthPx: w, heightPx: h });
      else start.current();
    };
    const observer = new ResizeObserver(measure);
    observer.observe(element);
    measure();
    return () => observer.disconnect();
  }, []);

  useLayoutEffect(() => {
    const onGpu = canDrawOnGpu();
    drawer.current = onGpu ? new OverlayRenderer(canvas.current!) : new PlainOverlay(canvas.current!);
    setPlain(!onGpu);
    return () => {
      drawer.current?.dispose();
      drawer.current = null;
    };
  }, []);
  useLayoutEffect(() => {
    if (table) drawer.current?.setTable(table);
  }, [table]);
  useLayoutEffect(() => drawer.current?.setPicture(drawing.picture, ...from), [drawing.picture, from]);
  useLayoutEffect(() => {
    if (drawing.events) drawer.current?.setEvents(drawing.events);
  }, [drawing.events]);
  useEffect(() => {
    if (!view) return;
    const night = theme === 'night';
    drawer.current?.draw({
      view,
      inverseRangePerM: drawing.inverseRangePerM,
      kernelPx: drawing.kernelPx,
      levels: drawing.levels,
      lines: settings.lines,
      dots: settings.dots,
      brightness: settings.brightness,
      violet: night ? VIOLET_NIGHT : VIOLET,
      halo: night ? HALO_NIGHT : HALO,
      ground: rgbOf(getComputedStyle(document.documentElement).getPropertyValue('--paper-sunk').trim()),
    });
  }, [view, drawing, settings, theme]);

  const zoomAt = useCallback((factor: number, x: number, y: number) => {
    setView((now) => {
      if (!now) return now;
      const scale = Math.min(MOST_SCALE, Math.max(0.05, now.scale * factor));
      const u = uOfScreen(now, x);
      const v = vOfScreen(now, y);
      return {
        ...now,
        scale,
        centreU: u - (x - now.widthPx / 2) / scale,
        centreV: v - (y - now.heightPx / 2) / scale,
      };
    });
  }, []);
  useEffect(() => {
    const element = box.current!;
    const onWheel = (event: WheelEvent) => {
      event.preventDefault();
      const at = element.getBoundingClientRect();
      zoomAt(Math.exp(-event.deltaY * 0.0016), event.clientX - at.left, event.clientY - at.top);
    };
    element.addEventListener('wheel', onWheel, { passive: false });
    return () => element.removeEventListener('wheel', onWheel);
  }, [zoomAt]);

  const pointers = useRef(new Map<number, { x: number; y: number }>());
  const travelled = useRef(0);
  const at = (event: React.PointerEvent) => {
    const place = event.currentTarget.getBoundingClientRect();
    return { x: event.clientX - place.left, y: event.clientY - place.top };
  };
  const pan = (dx: number, dy: number) =>
    setView((now) => now && { ...now, centreU: now.centreU - dx / now.scale, centreV: now.centreV - dy / now.scale });
  return (
    <div
      ref={box}
      className={`stage${onPoint ? ' measuring' : ''}`}
      role="application"
      aria-label={t('evidence.stageKeys')}
      // biome-ignore lint/a11y/noNoninteractiveTabindex: moved and enlarged by keys
      tabIndex={0}
      onPointerDown={(event) => {
        if ((event.target as Element).closest('button')) return;
        event.currentTarget.setPointerCapture(event.pointerId);
        pointers.current.set(event.pointerId, at(event));
        travelled.current = 0;
      }}
      onPointerMove={(event) => {
        const now = at(event);
        if (view) onPointer?.([uOfScreen(view, now.x), vOfScreen(view, now.y)]);
        const before = pointers.current.get(event.pointerId);
        if (!before) return;
        travelled.current += Math.hypot(now.x - before.x, now.y - before.y);
        const other = [...pointers.current].find(([id]) => id !== event.pointerId)?.[1];
        pointers.current.set(event.pointerId, now);
        if (!other) {
          if (travelled.current > 3) pan(now.x - before.x, now.y - before.y);
          return;
        }
        const factor =
          Math.hypot(now.x - other.x, now.y - other.y) / Math.hypot(before.x - other.x, before.y - other.y);
        pan((now.x - before.x) / 2, (now.y - before.y) / 2);
        if (Number.isFinite(factor)) zoomAt(factor, (now.x + other.x) / 2, (now.y + other.y) / 2);
      }}
      onPointerUp={(event) => {
        if (!pointers.current.delete(event.pointerId)) return;
        if (travelled.current > 6 || !view || !onPoint) return;
        const now = at(event);
        onPoint([uOfScreen(view, now.x), vOfScreen(view, now.y)]);
      }}
      onPointerCancel={(event) => pointers.current.delete(event.pointerId)}
      onPointerLeave={() => onPointer?.(null)}
      onKeyDown={(event) => {
        if (!view || event.target !== event.currentTarget || event.ctrlKey || event.metaKey || event.altKey) return;
        const middle = [view.widthPx / 2, view.heightPx / 2] as const;
        const keys = new Map<string, () => void>([
          ['ArrowLeft', () => pan(50, 0)],
          ['ArrowRight', () => pan(-50, 0)],
          ['ArrowUp', () => pan(0, 50)],
          ['ArrowDown', () => pan(0, -50)],
          ['+', () => zoomAt(1.4, ...middle)],
          ['=', () => zoomAt(1.4, ...middle)],
          ['-', () => zoomAt(1 / 1.4, ...middle)],
          ['0', showAll],
          ['.', () => props.onStep?.(1)],
          [',', () => props.onStep?.(-1)],
          ['Enter', () => onPoint?.([view.centreU, view.centreV])],
        ]);
        const act = keys.get(event.key);
        if (!act) return;
        event.preventDefault();
        act();
      }}
    >
      <canvas ref={canvas} role="img" aria-label={t('evidence.stage')} data-drawn-by={plain ? 'processor' : 'gpu'} />
      {view && (
        <StageMarks
          view={view}
          ellipse={props.ellipse}
          measured={props.measured}
          aiming={onPoint !== null}
          metresPerPx={props.focalPx ? drawing.trueRangeM / props.focalPx : null}
          screenU={(u) => screenOfU(view, u)}
          screenV={(v) => screenOfV(view, v)}
        />
      )}
      <div className="stage-tools">
        {closeUp && (
          <button type="button" onClick={goClose}>
            {t('evidence.toDischarge')}
          </button>
        )}
        <button type="button" onClick={showAll}>
          {t('evidence.toWhole')}
        </button>
      </div>
      {plain && <p className="stage-note">{t('evidence.byPlain')}</p>}
      {props.note && !drawing.picture && (
        <p className="stage-note" role="status">
          {props.waiting ? '…' : props.note}
        </p>
      )}
    </div>
  );
}
