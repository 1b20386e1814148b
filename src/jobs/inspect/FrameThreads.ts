import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import { InputError, type InputFault } from '../../input/InputError.ts';
import type { FrameReading } from '../../photon/FrameReader.ts';
import { depthOf } from '../../photon/SpotKernels.ts';
import { type SharedSpots, shareSpots } from '../../photon/simdSpotKernels.ts';
import type { UvCamera } from '../../photon/UvCamera.ts';
import type { FrameIndex } from '../../recording/FrameIndex.ts';
import type { UvStream } from '../../recording/fields.ts';
import { unpackReadings } from './packReadings.ts';

/** The stream that the threads read. */
export interface ThreadedStream {
  readonly camera: UvCamera;
  readonly folder: string;
  readonly stream: UvStream;
  readonly index: FrameIndex;
}

export interface ThreadOrders extends ThreadedStream {
  readonly shared: SharedSpots;
  readonly thread: number;
}

/** Frames for one thread, and the place of each in the shared memory; `isThere` where it was put there before. */
export type FrameBatch = readonly { readonly frame: number; readonly place: number; readonly isThere: boolean }[];

/** What a thread read of a batch, up to the first frame with a fault. */
export interface ThreadNews {
  /** By `packReadings`. */
  readonly packed: Float64Array;
  readonly fault: InputFault | string | null;
}

/** Frames that a thread is given at a time: fewer messages with more, but then what is read is long out of the cache when it is used. */
const BATCH = 4;
/** Memory for frames at most. */
const MOST_BYTES = 256 << 20;
/** What is done in order takes about a fifth of the time: more threads would wait. */
const MOST_THREADS = 6;

/** As many threads as there are cores to run them beside each other; 0, none, where there is only one. */
export const usualThreads = (): number =>
  availableParallelism() > 1 ? Math.min(MOST_THREADS, availableParallelism()) : 0;

interface BatchNews {
  readonly readings: readonly FrameReading[];
  readonly fault: InputFault | string | null;
}

/** A batch on its way, or come back and not yet taken to its end. */
interface Batch {
  readonly thread: number;
  readonly frames: FrameBatch;
  readonly news: Promise<BatchNews>;
  taken: number;
}

/**
 * Threads that each read, decode and search whole frames in memory they share; nothing of a frame is ever sent. Frames are handed
 * out and come back in order, a few batches ahead of the one that is asked for.
 */
export class FrameThreads {
  readonly shared: SharedSpots;
  readonly #threads: readonly FrameThread[];
  readonly #batchFrames: number;
  /** In order; of the first, some frames may be taken, and their places are free only when the next batch begins. */
  #batches: Batch[] = [];
  #handedOut = 0;
  #next = 0;

  /** @returns null where there are no threads to be had: from TypeScript sources, or without shared memory */
  static start(of: ThreadedStream, threads: number): FrameThreads | null {
    if (threads < 1 || import.meta.url.endsWith('.ts')) return null;
    const { widthPx, heightPx, bitDepth } = of.camera;
    const most = Math.floor(MOST_BYTES / (batchesOf(threads) * widthPx * heightPx * (bitDepth / 8)));
    const batchFrames = Math.max(1, Math.min(BATCH, most));
    const shared = shareSpots(widthPx, heightPx, depthOf(bitDepth), threads + 1, batchesOf(threads) * batchFrames);
    return shared && new FrameThreads(of, shared, batchFrames);
  }

  private constructor(of: ThreadedStream, shared: SharedSpots, batchFrames: number) {
    this.shared = shared;
    this.#batchFrames = batchFrames;
    this.#threads = Array.from(
      { length: shared.threads - 1 },
      (_, k) => new FrameThread({ ...of, shared, thread: k + 1 }),
    );
  }

  /** The next frame, in order: its place in the shared memory, and what it shows. Frames before `end` may be read ahead. */
  async take(frame: number, end: number): Promise<{ place: number; reading: FrameReading }> {
    if (this.#handedOut === 0) this.#next = frame;
    if (this.#batches[0]?.taken === this.#batches[0]?.frames.length) this.#batches.shift();
    while (this.#next < end && this.#batches.length < batchesOf(this.#threads.length)) this.#handOut(end);
    const batch = this.#batches[0];
    const { readings, fault } = await batch.news;
    if (batch.taken >= readings.length) throw typeof fault === 'string' ? new Error(fault) : new InputError(fault!);
    const reading = readings[batch.taken];
    return { place: batch.frames[batch.taken++].place, reading };
  }

  /** Waits until no thread is at work. */
  async rest(): Promise<void> {
    await Promise.all(this.#batches.map(({ news }) => news));
  }

  /** Lets the frame taken last, which then is the next one again, and all read ahead be searched anew. Only while at rest. */
  async readAgain(): Promise<void> {
    const again: Batch[] = [];
    for (const [k, { thread, frames, news, taken }] of this.#batches.entries()) {
      const { readings } = await news;
      const there = frames.map((part, i) => ({ ...part, isThere: i < readings.length }));
      again.push(this.#send(thread, there.slice(k === 0 ? taken - 1 : 0)));
    }
    this.#batches = again;
  }

  async stop(): Promise<void> {
    await Promise.all(this.#threads.map((thread) => thread.stop()));
  }

  #handOut(end: number): void {
    const number = this.#handedOut++;
    const firstPlace = (number % batchesOf(this.#threads.length)) * this.#batchFrames;
    const length = Math.min(this.#batchFrames, end - this.#next);
    const frames = Array.from({ length }, (_, k) => ({ frame: this.#next + k, place: firstPlace + k, isThere: false }));
    this.#next += length;
    this.#batches.push(this.#send(number % this.#threads.length, frames));
  }

  #send(thread: number, frames: FrameBatch): Batch {
    const news = this.#threads[thread].read(frames);
    // A thread that dies is told of when its frames are asked for.
    news.catch(() => undefined);
    return { thread, frames, news, taken: 0 };
  }
}

/** Two for each thread, and one whose frames are being taken. */
const batchesOf = (threads: number): number => 2 * threads + 1;

/** A thread that answers batch after batch, in order. */
class FrameThread {
  readonly #worker: Worker;
  readonly #waiting: { resolve(news: BatchNews): void; reject(error: Error): void }[] = [];

  constructor(workerData: ThreadOrders) {
    this.#worker = new Worker(new URL('./frameThread.js', import.meta.url), { workerData });
    this.#worker.on('message', ({ packed, fault }: ThreadNews) =>
      this.#waiting.shift()!.resolve({ readings: unpackReadings(packed), fault }),
    );
    this.#worker.on('error', (error: Error) => {
      for (const { reject } of this.#waiting.splice(0)) reject(error);
    });
  }

  read(frames: FrameBatch): Promise<BatchNews> {
    return new Promise((resolve, reject) => {
      this.#waiting.push({ resolve, reject });
      this.#worker.postMessage(frames);
    });
  }

  async stop(): Promise<void> {
    await this.#worker.terminate();
  }
}
