import { filteredLevel } from './DarkModel.ts';
import type { GlowMemory, GlowPatch } from './GlowMemory.ts';
import { HitRegions } from './hitRegions.ts';
import type { FrameLevel } from './probeFrame.ts';
import { type EventShape, RegionReader } from './readRegion.ts';
import type { SpotKernels } from './SpotKernels.ts';
import { emptyHits } from './spotFilter.ts';
import { meanChargeDn, type UvCamera } from './UvCamera.ts';

/** What one frame shows, before the frames around have their say. */
export interface FrameReading extends FrameLevel {
  readonly found: EventShape[];
  /** Light whose afterglow may lie on glows of the next frame. */
  readonly glows: readonly GlowPatch[];
  /** False where there are glows that the light of the frame before had to be taken off: only a reader that knew it is right. */
  readonly standsAlone: boolean;
}

/** Reads frames against a dark level that others keep. But for the light that bright glows ask for, nothing is kept from frame to frame: threads can share the work. */
export class FrameReader {
  readonly #camera: UvCamera;
  readonly #kernels: SpotKernels;
  readonly #regions: HitRegions;
  readonly #reader: RegionReader;
  /** Of the frame before, for the bright glows of the next. */
  readonly glows: GlowMemory;
  readonly #hits = emptyHits();

  constructor(camera: UvCamera, kernels: SpotKernels) {
    this.#camera = camera;
    this.#kernels = kernels;
    this.#regions = new HitRegions(camera.widthPx);
    this.#reader = new RegionReader(camera);
    this.glows = this.#reader.glows;
  }

  /** Takes a frame and tells its level, for which no thresholds are needed. */
  take(data: Uint8Array | Uint16Array): FrameLevel {
    this.#kernels.take(data);
    return this.#kernels.probe();
  }

  /**
   * The photon events of the frame taken last, in order of place, by the thresholds as they are.
   * @param afterglowShare of the light of the frame before that shows again in this one
   */
  find(data: Uint8Array | Uint16Array, level: FrameLevel, gain: number, afterglowShare: number): FrameReading {
    const { meanDn, noiseDn } = this.#kernels;
    const { widthPx, heightPx, bitDepth } = this.#camera;
    const { levelDn } = level;
    this.#kernels.scanInto(this.#hits, filteredLevel(levelDn, bitDepth));
    const meanCharge = meanChargeDn(this.#camera, gain);
    const found: EventShape[] = [];
    const aboveDark = { data, dark: { widthPx, heightPx, meanDn, noiseDn }, levelDn };
    const list = this.#regions.borrow(this.#hits);
    for (let r = 0; r < list.count; r++) this.#reader.readInto(found, list, r, aboveDark, meanCharge, afterglowShare);
    const standsAlone = !this.glows.wasAsked;
    this.glows.nextFrame();
    found.sort((a, b) => a.yPx - b.yPx || a.xPx - b.xPx);
    return { levelDn, noiseScale: level.noiseScale, found, glows: this.glows.before, standsAlone };
  }
}
