import type { GreyFrame } from '../../camera/GreyFrame.ts';
import { EVENT_FLAGS, NOT_A_PHOTON, type PhotonEvents } from '../../photon/PhotonEvents.ts';
import { PhotonEventsBuilder, sliceEvents } from '../../photon/PhotonEventsBuilder.ts';
import { type PhotonFinder, startPhotonFinder } from '../../photon/photonFinder.ts';
import { meanChargeDn, type UvCamera } from '../../photon/UvCamera.ts';
import type { FrameIndex } from '../../recording/FrameIndex.ts';
import type { UvFrames } from '../../recording/uvFrames.ts';
import { Interrupted, type JobWatch } from '../JobWatch.ts';

/** Rows of the index, from the first to the one before the last. */
export interface FrameRange {
  readonly from: number;
  readonly to: number;
}

/** What a stretch of frames shows. */
export interface FrameSample extends FrameRange {
  readonly fromNs: number;
  readonly toNs: number;
  readonly gain: number;
  readonly events: PhotonEvents;
  /** Photon events a frame, those left out that are no photons. */
  readonly eventsPerFrame: number;
  /** Mean of the middle half of the pixels. */
  readonly darkDn: number;
  /** Share of pixels at the sensor's limit. */
  readonly saturatedShare: number;
  /** Frames that equal the one before to the last bit. */
  readonly repeatedFrames: number;
  /** Sensor rows that never changed while others did. */
  readonly stuckRows: readonly number[];
  /** Charge of clean single events over what the gain curve says at the recorded gain, and events it rests on. */
  readonly chargeRatio: number;
  readonly chargeCount: number;
}

/** Frames of a stretch: three seconds at 50 a second, in which a fitting crosses the image. */
const BLOCK_FRAMES = 150;
const MOST_BLOCKS = 20;
/** Pixels read in all: half a minute's work on one processor, whatever the sensor. */
const PIXEL_BUDGET = 2e9;
/** Not more than this share of a short flight: the check is a glance, not the inspection. */
const LARGEST_SHARE = 1 / 3;
const WARM_UP_FRAMES = 64;
/** Pixels and frames looked at for dark level and saturation: every so many. */
const PIXEL_STEP = 37;
const FRAME_STEP = 10;

/** Stretches spread evenly over a flight. */
export function evenRanges(frames: number, pixels: number): FrameRange[] {
  const length = Math.min(BLOCK_FRAMES, frames);
  const blocks = Math.max(
    1,
    Math.min(MOST_BLOCKS, Math.floor(Math.min(frames * LARGEST_SHARE, PIXEL_BUDGET / pixels) / length)),
  );
  return Array.from({ length: blocks }, (_, k) => {
    const from = blocks === 1 ? Math.floor((frames - length) / 2) : Math.floor(((frames - length) * k) / (blocks - 1));
    return { from, to: from + length };
  });
}

/** Reads stretches of frames, in order of time, and reduces them to events and figures. One finder serves all of them. */
export function startSampling(camera: UvCamera, frames: UvFrames, index: FrameIndex) {
  const finder: PhotonFinder = startPhotonFinder(camera);
  let warm = false;
  return async (ranges: readonly FrameRange[], watch: JobWatch, step: string): Promise<FrameSample[]> => {
    const total = ranges.reduce((sum, range) => sum + range.to - range.from, 0);
    let done = 0;
    const samples: FrameSample[] = [];
    for (const range of ranges) {
      if (!warm) {
        const first: GreyFrame[] = [];
        for (let i = range.from; i < range.to && first.length < WARM_UP_FRAMES; i++) first.push(await frames.read(i));
        finder.learnFrom(first);
        warm = true;
      }
      samples.push(
        await sampleRange(range, camera, finder, frames, index, () => {
          watch.progress(step, done++, total, 'frames');
          if (watch.signal?.aborted) throw new Interrupted();
        }),
      );
    }
    watch.progress(step, total, total, 'frames');
    return samples;
  };
}

async function sampleRange(
  range: FrameRange,
  camera: UvCamera,
  finder: PhotonFinder,
  frames: UvFrames,
  index: FrameIndex,
  tick: () => void,
): Promise<FrameSample> {
  const builder = new PhotonEventsBuilder();
  const still = new StillRows(camera.widthPx, camera.heightPx);
  let before: GreyFrame['data'] | null = null;
  let repeatedFrames = 0;
  let saturated = 0;
  let looked = 0;
  const levels: number[] = [];
  for (let i = range.from; i < range.to; i++) {
    const frame = await frames.borrow(i);
    if (before && equalBytes(before, frame.data)) repeatedFrames++;
    before = frame.data.slice();
    if ((i - range.from) % FRAME_STEP === 0) {
      const found = levelsOf(frame, i, camera.saturationLevel);
      saturated += found.saturated;
      looked += found.looked;
      levels.push(found.middle);
      still.look(before);
    }
    finder.addInto(builder, frame, index[i]);
    tick();
  }
  const events = builder.finish();
  let photons = 0;
  let clean = 0;
  let ratio = 0;
  for (let e = 0; e < events.count; e++) {
    if ((events.flags[e] & NOT_A_PHOTON) === 0) photons++;
    if (events.flags[e] !== 0) continue;
    clean++;
    ratio += events.charge[e] / meanChargeDn(camera, index[events.frame[e]]?.gain ?? index[range.from].gain);
  }
  return {
    ...range,
    fromNs: index[range.from].tNs,
    toNs: index[range.to - 1].tNs,
    gain: index[range.from].gain,
    events,
    eventsPerFrame: photons / (range.to - range.from),
    darkDn: levels.reduce((a, b) => a + b, 0) / levels.length,
    saturatedShare: saturated / looked,
    repeatedFrames,
    stuckRows: still.rows(),
    chargeRatio: clean > 0 ? ratio / clean : Number.NaN,
    chargeCount: clean,
  };
}

/** Dark level and saturation of a frame, by every so many of its pixels. */
export function levelsOf(
  { data }: GreyFrame,
  row: number,
  saturationLevel: number,
): { readonly middle: number; readonly saturated: number; readonly looked: number } {
  const values: number[] = [];
  let saturated = 0;
  for (let k = row % PIXEL_STEP; k < data.length; k += PIXEL_STEP) {
    values.push(data[k]);
    if (data[k] >= saturationLevel) saturated++;
  }
  return { middle: middleMean(values), saturated, looked: values.length };
}

/** Events are in order of frame: those of a stretch are one piece of the table. */
export function eventsWithin(events: PhotonEvents, range: FrameRange): PhotonEvents {
  const firstOf = (frame: number): number => {
    let low = 0;
    let high = events.count;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (events.frame[middle] < frame) low = middle + 1;
      else high = middle;
    }
    return low;
  };
  return sliceEvents(events, firstOf(range.from), firstOf(range.to));
}

/** Rows of the sensor whose every pixel has kept its value in all frames looked at. */
export class StillRows {
  readonly #widthPx: number;
  readonly #still: Uint8Array;
  #first: GreyFrame['data'] | null = null;

  constructor(widthPx: number, heightPx: number) {
    this.#widthPx = widthPx;
    this.#still = new Uint8Array(heightPx).fill(1);
  }

  look(data: GreyFrame['data']): void {
    if (!this.#first) {
      this.#first = data;
      return;
    }
    for (let row = 0; row < this.#still.length; row++) {
      const end = (row + 1) * this.#widthPx;
      for (let k = row * this.#widthPx; k < end && this.#still[row] === 1; k++)
        if (data[k] !== this.#first[k]) this.#still[row] = 0;
    }
  }

  /** Empty where most rows are still: a camera so quiet, or an image that is repeated, has no stuck rows. */
  rows(): number[] {
    const rows = [...this.#still.keys()].filter((row) => this.#still[row] === 1);
    return rows.length > this.#still.length / 2 ? [] : rows;
  }
}

const equalBytes = (a: GreyFrame['data'], b: GreyFrame['data']): boolean =>
  Buffer.compare(
    new Uint8Array(a.buffer, a.byteOffset, a.byteLength),
    new Uint8Array(b.buffer, b.byteOffset, b.byteLength),
  ) === 0;

function middleMean(values: number[]): number {
  values.sort((a, b) => a - b);
  const middle = values.slice(values.length >> 2, Math.max((values.length >> 2) + 1, (3 * values.length) >> 2));
  return middle.reduce((a, b) => a + b, 0) / middle.length;
}

/** Events with a pixel at the sensor's limit. */
export const saturatedEvents = ({ events }: FrameSample): number =>
  events.flags.reduce((n, flags) => n + ((flags & EVENT_FLAGS.saturated) !== 0 ? 1 : 0), 0);
