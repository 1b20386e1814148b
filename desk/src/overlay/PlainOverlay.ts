import { contourLines } from '../../../src/report/contourLines.ts';
import { photonDensity } from '../../../src/report/photonDensity.ts';
import { type LookUpTable, lookUp } from '../../../src/rig/lookUpTable.ts';
import {
  type OverlayDrawer,
  type OverlayEvents,
  type OverlayScene,
  type Rgb,
  screenOfU,
  screenOfV,
} from './OverlayScene.ts';

const css = ([r, g, b]: Rgb): string => `rgb(${Math.round(255 * r)} ${Math.round(255 * g)} ${Math.round(255 * b)})`;

/** The overlay drawn by the processor, with the report's own contour lines: right, but not made for playing. */
export class PlainOverlay implements OverlayDrawer {
  readonly kind = 'plain';
  readonly #canvas: HTMLCanvasElement;
  readonly #context: CanvasRenderingContext2D;
  #table: LookUpTable | null = null;
  #picture: ImageBitmap | null = null;
  #from: readonly [number, number] = [0, 0];
  #events: OverlayEvents | null = null;

  constructor(canvas: HTMLCanvasElement) {
    this.#canvas = canvas;
    this.#context = canvas.getContext('2d', { alpha: false })!;
  }

  setTable(table: LookUpTable): void {
    this.#table = table;
  }
  setPicture(picture: ImageBitmap | null, leftPx: number, topPx: number): void {
    this.#picture = picture;
    this.#from = [leftPx, topPx];
  }
  setEvents(events: OverlayEvents): void {
    this.#events = events;
  }
  dispose(): void {
    this.#picture = null;
  }

  draw(scene: OverlayScene): void {
    const c = this.#context;
    const { view } = scene;
    const ratio = this.#canvas.width / view.widthPx;
    c.setTransform(ratio, 0, 0, ratio, 0, 0);
    c.fillStyle = css(scene.ground);
    c.fillRect(0, 0, view.widthPx, view.heightPx);
    if (this.#picture) {
      c.filter = scene.brightness === 1 ? 'none' : `brightness(${scene.brightness})`;
      c.drawImage(
        this.#picture,
        screenOfU(view, this.#from[0] - 0.5),
        screenOfV(view, this.#from[1] - 0.5),
        this.#picture.width * view.scale,
        this.#picture.height * view.scale,
      );
      c.filter = 'none';
    }
    const points = this.#colourPoints(scene);
    if (scene.dots)
      for (const [radius, colour] of [
        [3.2, scene.halo],
        [1.8, scene.violet],
      ] as const) {
        c.fillStyle = css(colour);
        c.beginPath();
        for (let i = 0; i + 1 < points.length; i += 2) {
          const x = screenOfU(view, points[i]!);
          const y = screenOfV(view, points[i + 1]!);
          c.moveTo(x + radius, y);
          c.arc(x, y, radius, 0, 2 * Math.PI);
        }
        c.fill();
      }
    if (!scene.lines || scene.levels.length === 0) return;
    const window = {
      leftPx: view.centreU - view.widthPx / view.scale / 2,
      topPx: view.centreV - view.heightPx / view.scale / 2,
      widthPx: view.widthPx / view.scale,
      heightPx: view.heightPx / view.scale,
    };
    const density = photonDensity(points, window, scene.kernelPx);
    for (const [extra, colour] of [
      [2.4, scene.halo],
      [0, scene.violet],
    ] as const)
      scene.levels.forEach((level, k) => {
        c.beginPath();
        for (const { points: line, closed } of contourLines(density, level)) {
          for (let i = 0; i + 1 < line.length; i += 2) {
            const x = screenOfU(view, density.leftPx + line[i]! * density.stepPx);
            const y = screenOfV(view, density.topPx + line[i + 1]! * density.stepPx);
            if (i === 0) c.moveTo(x, y);
            else c.lineTo(x, y);
          }
          if (closed) c.closePath();
        }
        c.strokeStyle = css(colour);
        c.lineWidth = (k === 0 ? 2.1 : 1.4) + extra;
        c.stroke();
      });
  }

  #colourPoints(scene: OverlayScene): number[] {
    const events = this.#events;
    if (!events) return [];
    const out: number[] = [];
    for (let i = 0; i < events.count; i++) {
      const u = events.px[2 * i]!;
      const v = events.px[2 * i + 1]!;
      if (events.alreadyColour || !this.#table) out.push(u, v);
      else {
        const px = lookUp(this.#table, u, v, scene.inverseRangePerM ?? events.inverseRangePerM[i]!);
        if (px) out.push(...px);
      }
    }
    return out;
  }
}
