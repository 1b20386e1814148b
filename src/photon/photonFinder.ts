import type { GreyFrame } from '../camera/GreyFrame.ts';
import { AfterglowGauge } from './AfterglowGauge.ts';
import { BLOCK_FRAMES, DarkModel, filteredLevel } from './DarkModel.ts';
import { HitRegions } from './hitRegions.ts';
import type { PhotonEventsBuilder } from './PhotonEventsBuilder.ts';
import { plainSpotKernels } from './plainSpotKernels.ts';
import { RecentEvents } from './RecentEvents.ts';
import { type EventShape, RegionReader } from './readRegion.ts';
import { depthOf } from './SpotKernels.ts';
import { simdSpotKernels } from './simdSpotKernels.ts';
import { emptyHits } from './spotFilter.ts';
import { meanChargeDn, type UvCamera } from './UvCamera.ts';

export interface PhotonFinderOptions {
  /** How far, in standard deviations of the filtered dark frame, an event must stand out. Default 5. */
  readonly thresholdSigmas?: number;
  /** An event with less than this share of the charge of one at its place in the frame before is its afterglow. Default 0.35. */
  readonly afterglowShare?: number;
  /** Which form of the passes over frames is used; the results are the same. By default SIMD where the engine has it. */
  readonly kernels?: 'simd' | 'plain';
}

export interface PhotonFinderStatistics {
  readonly framesSeen: number;
  readonly meanDarkDn: number;
  readonly meanNoiseDn: number;
  /** Share of a spot's light that the phosphor gives off again in the next frame, as measured; 0 where too few spots told. */
  readonly afterglowShare: number;
  /** Pixels, by row and column, that fired alone more often than light could. */
  readonly hotPixels: readonly { readonly xPx: number; readonly yPx: number; readonly firings: number }[];
}

export interface PhotonFinder {
  /**
   * Learns the dark level from the first frames of a stream (16 or more, 64 advised), which are then given to `addInto`
   * like all others, so that warming up loses none.
   */
  learnFrom(frames: readonly GreyFrame[]): void;
  /** Where a reader may put the next frame before it is given to `addInto`: that saves a copy, nothing else. */
  readonly frameBuffer: Uint8Array | Uint16Array;
  /** Adds the photon events of one frame, in order of place; frames come in order of time. The frame is not kept. */
  addInto(
    events: PhotonEventsBuilder,
    frame: GreyFrame,
    entry: { readonly frame: number; readonly tNs: number; readonly gain: number },
  ): void;
  /** All that was learned: a finder that restores it gives the same bytes for the frames that follow. */
  snapshot(): Uint8Array;
  restore(bytes: Uint8Array): void;
  statistics(): PhotonFinderStatistics;
}

/** A pixel that fires alone this often in a block is hot: chance gives a lone pixel far less than once. */
const HOT_FIRINGS = 4;

/** Starts a finder for one stream. It holds the dark level learned and the events of the last frames, nothing else. */
export function startPhotonFinder(camera: UvCamera, options: PhotonFinderOptions = {}): PhotonFinder {
  const { widthPx, heightPx } = camera;
  const depth = depthOf(camera.bitDepth);
  const simd = options.kernels === 'plain' ? null : simdSpotKernels(widthPx, heightPx, depth);
  if (!simd && options.kernels === 'simd') throw new Error('this engine has no WebAssembly with SIMD');
  const kernels = simd ?? plainSpotKernels(widthPx, heightPx, depth);
  const dark = new DarkModel(kernels, widthPx, heightPx, camera.bitDepth, options.thresholdSigmas ?? 5);
  const regions = new HitRegions(widthPx);
  const reader = new RegionReader(camera);
  const recent = new RecentEvents(camera.spotSigmaPx, options.afterglowShare ?? 0.35);
  const afterglow = new AfterglowGauge(camera.spotSigmaPx, widthPx, heightPx);
  const hits = emptyHits();
  /** Pixels that fired alone: how often in this block, their summed signal, and how often in all. */
  let firings = new Map<number, { inBlock: number; sumDn: number; total: number }>();

  const noteFiring = (pixel: number, signalDn: number): void => {
    const known = firings.get(pixel);
    if (known) {
      known.inBlock++;
      known.sumDn += signalDn;
      known.total++;
    } else firings.set(pixel, { inBlock: 1, sumDn: signalDn, total: 1 });
  };

  const closeBlock = (): void => {
    for (const [pixel, fired] of firings) {
      if (fired.inBlock > BLOCK_FRAMES / 2) dark.adopt(pixel, dark.meanDn[pixel] + fired.sumDn / fired.inBlock);
      else if (fired.inBlock >= HOT_FIRINGS) dark.hot[pixel] = 1;
      fired.inBlock = 0;
      fired.sumDn = 0;
    }
  };

  return {
    frameBuffer: kernels.frame,

    learnFrom(frames) {
      for (const frame of frames) checkFrame(frame, camera);
      if (frames.length < 16) throw new RangeError(`a dark level needs 16 frames or more, got ${frames.length}`);
      dark.learnFrom(frames);
    },

    addInto(events, frame, entry) {
      if (!dark.learned) throw new Error('the photon finder has no dark level yet: call learnFrom or restore first');
      checkFrame(frame, camera);
      const { levelDn } = dark.look(frame.data, entry.gain);
      kernels.scanInto(hits, filteredLevel(levelDn, camera.bitDepth));
      const meanCharge = meanChargeDn(camera, entry.gain);
      const found: EventShape[] = [];
      const aboveDark = { data: frame.data, dark, levelDn };
      const list = regions.borrow(hits);
      for (let r = 0; r < list.count; r++) reader.readInto(found, list, r, aboveDark, meanCharge, afterglow.share);
      reader.glows.nextFrame();
      found.sort((a, b) => a.yPx - b.yPx || a.xPx - b.xPx);
      recent.judgeInto(found, meanCharge, afterglow.share);
      afterglow.add(frame.data, dark, levelDn, found, meanCharge);
      for (const event of found) {
        if (event.lonePixel >= 0)
          noteFiring(event.lonePixel, frame.data[event.lonePixel] - dark.meanDn[event.lonePixel]);
        const { xPx, yPx, charge, sigmaPx, flags } = event;
        events.add({ frame: entry.frame, tNs: entry.tNs, xPx, yPx, charge, sigmaPx, flags });
      }
      if (dark.update(frame.data, levelDn, found)) closeBlock();
    },

    snapshot() {
      const model = dark.snapshot();
      const rest = new TextEncoder().encode(
        JSON.stringify({
          firings: [...firings].map(([pixel, f]) => [pixel, f]),
          recent: recent.state(),
          glows: reader.glows.state(),
          afterglow: afterglow.state(),
        }),
      );
      const bytes = new Uint8Array(4 + model.length + rest.length);
      new DataView(bytes.buffer).setUint32(0, model.length, true);
      bytes.set(model, 4);
      bytes.set(rest, 4 + model.length);
      return bytes;
    },

    restore(bytes) {
      const length = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength).getUint32(0, true);
      dark.restore(bytes.subarray(4, 4 + length));
      const rest = JSON.parse(new TextDecoder().decode(bytes.subarray(4 + length)));
      if (!Array.isArray(rest.glows)) throw new RangeError('the state of a photon finder of another release');
      firings = new Map(rest.firings);
      recent.resume(rest.recent);
      reader.glows.resume(rest.glows);
      afterglow.resume(rest.afterglow);
    },

    statistics() {
      const average = (map: Float32Array): number => map.reduce((sum, x) => sum + x, 0) / map.length;
      const hotPixels = [...firings]
        .filter(([pixel, fired]) => dark.hot[pixel] === 1 || fired.total >= HOT_FIRINGS)
        .map(([pixel, fired]) => ({ xPx: pixel % widthPx, yPx: Math.floor(pixel / widthPx), firings: fired.total }))
        .sort((a, b) => b.firings - a.firings || a.yPx - b.yPx || a.xPx - b.xPx);
      return {
        framesSeen: dark.framesSeen,
        meanDarkDn: average(dark.meanDn),
        meanNoiseDn: average(dark.noiseDn),
        afterglowShare: afterglow.share,
        hotPixels,
      };
    },
  };
}

function checkFrame(frame: GreyFrame, camera: UvCamera): void {
  if (
    frame.widthPx !== camera.widthPx ||
    frame.heightPx !== camera.heightPx ||
    frame.data.length !== camera.widthPx * camera.heightPx
  )
    throw new RangeError(
      `frame of ${frame.widthPx} x ${frame.heightPx} px with ${frame.data.length} values, camera of ${camera.widthPx} x ${camera.heightPx} px`,
    );
}
