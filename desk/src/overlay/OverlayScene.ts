/** Which part of the colour picture is shown, and how large: centre in colour pixels, screen pixels a colour pixel. */
export interface PictureView {
  readonly centreU: number;
  readonly centreV: number;
  readonly scale: number;
  readonly widthPx: number;
  readonly heightPx: number;
}

export const screenOfU = (view: PictureView, u: number): number => (u - view.centreU) * view.scale + view.widthPx / 2;
export const screenOfV = (view: PictureView, v: number): number => (v - view.centreV) * view.scale + view.heightPx / 2;
export const uOfScreen = (view: PictureView, x: number): number => view.centreU + (x - view.widthPx / 2) / view.scale;
export const vOfScreen = (view: PictureView, y: number): number => view.centreV + (y - view.heightPx / 2) / view.scale;

export type Rgb = readonly [number, number, number];

/** All that one drawing of the overlay depends on, but for picture, table and events, which change at their own pace. */
export interface OverlayScene {
  readonly view: PictureView;
  /** The range that the mapping is made for, as its inverse; null: each event's own. */
  readonly inverseRangePerM: number | null;
  /** Standard deviation of the kernel that an event is spread with, colour pixels. */
  readonly kernelPx: number;
  /** Densities whose lines are drawn, events per square pixel, highest first; at most four. */
  readonly levels: readonly number[];
  readonly lines: boolean;
  readonly dots: boolean;
  /** 1 shows the picture as it was recorded, less darkens it. */
  readonly brightness: number;
  readonly violet: Rgb;
  readonly halo: Rgb;
  readonly ground: Rgb;
}

/** What the events are, for either way of drawing. */
export interface OverlayEvents {
  readonly count: number;
  /** u, v by turns: ultraviolet pixels, or colour pixels where the events were kept as such. */
  readonly px: Float32Array;
  readonly inverseRangePerM: Float32Array;
  readonly alreadyColour: boolean;
}

/** Something that draws the overlay on its canvas: the GPU, or the processor where there is none. */
export interface OverlayDrawer {
  readonly kind: 'gpu' | 'plain';
  /** `leftPx`, `topPx`: where the first pixel of the picture lies in the full colour image. */
  setPicture(picture: ImageBitmap | null, leftPx: number, topPx: number): void;
  setEvents(events: OverlayEvents): void;
  draw(scene: OverlayScene): void;
  dispose(): void;
}

export const rgbOf = (hex: string): Rgb => {
  const word = Number.parseInt(hex.slice(1), 16);
  return [(word >> 16) / 255, ((word >> 8) & 255) / 255, (word & 255) / 255];
};
