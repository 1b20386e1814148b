import { useCallback, useEffect, useImperativeHandle, useLayoutEffect, useRef } from 'react';
import { inkNow, useTheme } from '../shell/theme.ts';
import { drawSheet, placeOf, type SheetStyle } from './drawSheet.ts';
import { pick } from './pick.ts';
import type { ItemRef, SheetItems } from './SheetItems.ts';
import { fitted, panned, type Viewport, worldX, worldY, zoomed } from './Viewport.ts';

export interface SheetHandle {
  showAll(): void;
  show(ref: ItemRef): void;
  zoom(factor: number): void;
}

interface Props {
  readonly items: SheetItems;
  readonly style: Omit<SheetStyle, 'ink' | 'devicePixels'>;
  readonly chosen: ItemRef | null;
  readonly onChoose: (ref: ItemRef | null) => void;
  /** Metres under the pointer, null when it leaves. */
  readonly onHover?: (at: readonly [number, number] | null) => void;
  readonly onView?: (view: Viewport) => void;
  readonly label: string;
  readonly handle?: React.Ref<SheetHandle>;
}

/** A sheet that is panned and zoomed by pointer, fingers and keys. Frames are drawn on demand, never in a loop. */
export function SheetCanvas({ items, style, chosen, onChoose, onHover, onView, label, handle }: Props) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const view = useRef<Viewport | null>(null);
  const asked = useRef(0);
  const theme = useTheme();
  const latest = useRef({ items, style, chosen, onView });
  latest.current = { items, style, chosen, onView };
  const stretches = items.aspect === 'profile';

  const paint = useCallback(() => {
    asked.current = 0;
    const context = canvas.current?.getContext('2d');
    if (!context || !view.current) return;
    const { items: now, style: look, chosen: mark } = latest.current;
    const devicePixels = canvas.current!.width / view.current.widthPx;
    drawSheet(context, view.current, now, { ...look, ink: inkNow(), devicePixels }, mark);
  }, []);
  const ask = useCallback(() => {
    if (asked.current === 0) asked.current = requestAnimationFrame(paint);
  }, [paint]);
  const look = useCallback(
    (next: Viewport) => {
      view.current = next;
      latest.current.onView?.(next);
      ask();
    },
    [ask],
  );
  const showAll = useCallback(() => {
    const { clientWidth: w, clientHeight: h } = canvas.current!;
    look(fitted(latest.current.items.lineBounds, w, h, stretches, Math.min(48, h / 6)));
  }, [look, stretches]);

  useLayoutEffect(() => {
    const element = canvas.current!;
    const measure = () => {
      const { clientWidth: w, clientHeight: h } = element;
      if (w === 0 || h === 0) return;
      const ratio = Math.min(devicePixelRatio, 2);
      element.width = Math.round(w * ratio);
      element.height = Math.round(h * ratio);
      if (view.current) look({ ...view.current, widthPx: w, heightPx: h });
      else showAll();
      paint();
    };
    const observer = new ResizeObserver(measure);
    observer.observe(element);
    measure();
    return () => {
      observer.disconnect();
      cancelAnimationFrame(asked.current);
      asked.current = 0;
    };
  }, [look, paint, showAll]);

  // Another aspect is another plane: the old window means nothing on it.
  const aspect = useRef(items.aspect);
  useEffect(() => {
    if (aspect.current === items.aspect) return;
    aspect.current = items.aspect;
    showAll();
  }, [items.aspect, showAll]);
  // biome-ignore lint/correctness/useExhaustiveDependencies: whatever is drawn asks for a frame when it changes
  useEffect(ask, [ask, items, style, chosen, theme]);

  useImperativeHandle(
    handle,
    () => ({
      showAll,
      show: (ref) => {
        const place = placeOf(latest.current.items, ref);
        if (!place || !view.current) return;
        const { widthPx, heightPx } = view.current;
        // Never closer than twelve metres across: the neighbours say where one is.
        const half = Math.max(6, (place.maxX - place.minX) / 2, (place.maxY - place.minY) / 2) * 1.2;
        const x = (place.minX + place.maxX) / 2;
        const y = (place.minY + place.maxY) / 2;
        const near = { minX: x - half, maxX: x + half, minY: y - half, maxY: y + half };
        look({ ...fitted(near, widthPx, heightPx, false, 20), heightPxPerM: view.current.heightPxPerM });
      },
      zoom: (factor) => {
        if (view.current) look(zoomed(view.current, factor, view.current.widthPx / 2, view.current.heightPx / 2));
      },
    }),
    [look, showAll],
  );

  useEffect(() => {
    const element = canvas.current!;
    const onWheel = (event: WheelEvent) => {
      event.preventDefault();
      const box = element.getBoundingClientRect();
      const lines = event.deltaMode === 1 ? 16 : 1;
      if (view.current)
        look(
          zoomed(
            view.current,
            Math.exp(-event.deltaY * lines * 0.0016),
            event.clientX - box.left,
            event.clientY - box.top,
          ),
        );
    };
    // React listens passively to wheels, and the page must not scroll while the sheet zooms.
    element.addEventListener('wheel', onWheel, { passive: false });
    return () => element.removeEventListener('wheel', onWheel);
  }, [look]);

  const pointers = useRef(new Map<number, { x: number; y: number }>());
  const moved = useRef(0);
  const at = (event: React.PointerEvent) => {
    const box = event.currentTarget.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  };
  return (
    // biome-ignore lint/a11y/noInteractiveElementToNoninteractiveRole: an application is interactive; the list beside it is the plain way
    <canvas
      ref={canvas}
      className="sheet"
      tabIndex={0}
      role="application"
      aria-label={label}
      onPointerDown={(event) => {
        event.currentTarget.setPointerCapture(event.pointerId);
        pointers.current.set(event.pointerId, at(event));
        moved.current = 0;
      }}
      onPointerMove={(event) => {
        const now = at(event);
        if (onHover && view.current) onHover([worldX(view.current, now.x), worldY(view.current, now.y)]);
        const before = pointers.current.get(event.pointerId);
        if (!before || !view.current) return;
        moved.current += Math.hypot(now.x - before.x, now.y - before.y);
        const others = [...pointers.current].filter(([id]) => id !== event.pointerId).map(([, p]) => p);
        pointers.current.set(event.pointerId, now);
        const other = others[0];
        if (!other) {
          if (moved.current > 3) look(panned(view.current, now.x - before.x, now.y - before.y));
          return;
        }
        const factor =
          Math.hypot(now.x - other.x, now.y - other.y) / Math.hypot(before.x - other.x, before.y - other.y);
        const middle = { x: (now.x + other.x) / 2, y: (now.y + other.y) / 2 };
        const shifted = panned(view.current, (now.x - before.x) / 2, (now.y - before.y) / 2);
        if (Number.isFinite(factor)) look(zoomed(shifted, factor, middle.x, middle.y));
      }}
      onPointerUp={(event) => {
        const alone = pointers.current.size === 1;
        pointers.current.delete(event.pointerId);
        if (!alone || moved.current > 6 || !view.current) return;
        const now = at(event);
        const reach = event.pointerType === 'touch' ? 22 : 10;
        onChoose(pick(latest.current.items, view.current, now.x, now.y, reach, latest.current.style.shows.sightings));
      }}
      onPointerCancel={(event) => pointers.current.delete(event.pointerId)}
      onPointerLeave={() => onHover?.(null)}
      onKeyDown={(event) => {
        const now = view.current;
        if (!now || event.ctrlKey || event.metaKey || event.altKey) return;
        const step = 60;
        const middle = [now.widthPx / 2, now.heightPx / 2] as const;
        const keys = new Map<string, () => void>([
          ['ArrowLeft', () => look(panned(now, step, 0))],
          ['ArrowRight', () => look(panned(now, -step, 0))],
          ['ArrowUp', () => look(panned(now, 0, step))],
          ['ArrowDown', () => look(panned(now, 0, -step))],
          ['+', () => look(zoomed(now, 1.4, ...middle))],
          ['=', () => look(zoomed(now, 1.4, ...middle))],
          ['-', () => look(zoomed(now, 1 / 1.4, ...middle))],
          ['0', showAll],
          ['Escape', () => onChoose(null)],
        ]);
        const act = keys.get(event.key);
        if (!act) return;
        event.preventDefault();
        act();
      }}
    />
  );
}
