import type { GreyFrame } from '../camera/GreyFrame.ts';
import { AfterglowGauge } from './AfterglowGauge.ts';
import { BLOCK_FRAMES, DarkModel } from './DarkModel.ts';
import { FrameReader, type FrameReading } from './FrameReader.ts';
import type { PhotonEventsBuilder } from './PhotonEventsBuilder.ts';
import { plainSpotKernels } from './plainSpotKernels.ts';
import type { FrameLevel } from './probeFrame.ts';
import { RecentEvents } from './RecentEvents.ts';
import { depthOf } from './SpotKernels.ts';
import { type SharedSpots, simdSpotKernels } from './simdSpotKernels.ts';
import { meanChargeDn, type UvCamera } from './UvCamera.ts';

export interface PhotonFinderOptions {
  /** How far, in standard deviations of the filtered dark frame, an event must stand out. Default 5. */
  readonly thresholdSigmas?: number;
  /** An event with less than this share of the charge of one at its place in the frame before is its afterglow. Default 0.35. */
  readonly afterglowShare?: number;
  /** Which form of the passes over frames is used; the results are the same. By default SIMD where the engine has it. */
  readonly kernels?: 'simd' | 'plain';
  /** Memory in which threads read frames for this finder, which is thread 0 itself; only with SIMD. */
  readonly shared?: SharedSpots | null;
}

/** Where a frame stands in its stream. */
export interface FrameStamp {
  readonly frame: number;
  readonly tNs: number;
  readonly gain: number;
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
  /** Where a reader may put frames before they are given to `addInto`: that saves a copy, nothing else. */
  readonly frameBuffers: readonly (Uint8Array | Uint16Array)[];
  /** Adds the photon events of one frame, in order of place; frames come in order of time. The frame is not kept. */
  addInto(events: PhotonEventsBuilder, frame: GreyFrame, stamp: FrameStamp): void;
  /**
   * For frames that another thread read with a `FrameReader`, in order of time: whether its thresholds were the right ones. Where
   * not, no thread may read while `renewThresholds` is called, and this frame and all behind it are to be read again.
   */
  holds(level: FrameLevel, gain: number): boolean;
  renewThresholds(): void;
  /** As `addInto` for such a frame, after `holds`. */
  addReadInto(events: PhotonEventsBuilder, frame: GreyFrame, stamp: FrameStamp, reading: FrameReading): void;
  /** So many of the next frames can be read before one of them changes the dark level. */
  framesOfBlockLeft(): number;
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
  const simd = options.kernels === 'plain' ? null : simdSpotKernels(widthPx, heightPx, depth, options.shared);
  if (!simd && options.kernels === 'simd') throw new Error('this engine has no WebAssembly with SIMD');
  const kernels = simd ?? plainSpotKernels(widthPx, heightPx, depth);
  const dark = new DarkModel(kernels, widthPx, heightPx, camera.bitDepth, options.thresholdSigmas ?? 5);
  const reader = new FrameReader(camera, kernels);
  const recent = new RecentEvents(camera.spotSigmaPx, options.afterglowShare ?? 0.35);
  const afterglow = new AfterglowGauge(camera.spotSigmaPx, widthPx, heightPx);
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

  /** Adds what was read of the frame that the kernels took last. */
  const add: PhotonFinder['addReadInto'] = (events, { data }, { frame, tNs, gain }, { levelDn, found }) => {
    const meanCharge = meanChargeDn(camera, gain);
    recent.judgeInto(found, meanCharge, afterglow.share);
    afterglow.add(data, dark, levelDn, found, meanCharge);
    for (const { lonePixel, xPx, yPx, charge, sigmaPx, flags } of found) {
      if (lonePixel >= 0) noteFiring(lonePixel, data[lonePixel] - dark.meanDn[lonePixel]);
      events.add({ frame, tNs, xPx, yPx, charge, sigmaPx, flags });
    }
    if (dark.update(data, levelDn, found)) closeBlock();
  };

  return {
    frameBuffers: kernels.frames,

    learnFrom(frames) {
      for (const frame of frames) checkFrame(frame, camera);
      if (frames.length < 16) throw new RangeError(`a dark level needs 16 frames or more, got ${frames.length}`);
      dark.learnFrom(frames);
    },

    addInto(events, frame, stamp) {
      if (!dark.learned) throw new Error('the photon finder has no dark level yet: call learnFrom or restore first');
      checkFrame(frame, camera);
      const level = reader.take(frame.data);
      if (!dark.holds(level, stamp.gain)) dark.renewThresholds();
      add(events, frame, stamp, reader.find(frame.data, level, stamp.gain, afterglow.share));
    },

    holds: (level, gain) => dark.holds(level, gain),
    renewThresholds: () => dark.renewThresholds(),
    addReadInto(events, frame, stamp, reading) {
      kernels.take(frame.data);
      if (reading.standsAlone) {
        reader.glows.resume(reading.glows);
        add(events, frame, stamp, reading);
      } else add(events, frame, stamp, reader.find(frame.data, reading, stamp.gain, afterglow.share));
    },
    framesOfBlockLeft: () => dark.framesOfBlockLeft,

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
