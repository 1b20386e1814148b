import { parentPort, workerData } from 'node:worker_threads';
import { InputError } from '../../input/InputError.ts';
import { FrameReader, type FrameReading } from '../../photon/FrameReader.ts';
import { depthOf } from '../../photon/SpotKernels.ts';
import { simdSpotKernels } from '../../photon/simdSpotKernels.ts';
import { openUvFrames } from '../../recording/uvFrames.ts';
import type { FrameBatch, ThreadNews, ThreadOrders } from './FrameThreads.ts';
import { packReadings } from './packReadings.ts';

/** One of the threads of `FrameThreads`: puts whole frames into memory shared by all, and tells what each shows by itself. */
const { camera, folder, stream, index, shared, thread } = workerData as ThreadOrders;
const kernels = simdSpotKernels(camera.widthPx, camera.heightPx, depthOf(camera.bitDepth), shared, thread)!;
const reader = new FrameReader(camera, kernels);
const frames = await openUvFrames(folder, stream, index);

async function read({ frame, place, isThere }: FrameBatch[number]): Promise<FrameReading> {
  const data = kernels.frames[place];
  if (!isThere) await frames.readInto(data, frame);
  // Where afterglow plays a part the main thread reads the frame again.
  return reader.find(data, reader.take(data), index[frame].gain, 0);
}

async function readAll(batch: FrameBatch): Promise<ThreadNews> {
  const readings: FrameReading[] = [];
  try {
    for (const part of batch) readings.push(await read(part));
    return { packed: packReadings(readings), fault: null };
  } catch (error) {
    // Told when its turn comes: the frames before it count.
    return { packed: packReadings(readings), fault: error instanceof InputError ? error.fault : String(error) };
  }
}

parentPort!.on('message', async (batch: FrameBatch) => {
  const news = await readAll(batch);
  parentPort!.postMessage(news, [news.packed.buffer as ArrayBuffer]);
});
