import { mkdir, readdir, readFile, rm } from 'node:fs/promises';
import { join } from 'node:path';
import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import { concatEvents, PhotonEventsBuilder } from '../../photon/PhotonEventsBuilder.ts';
import type { PhotonFinder, PhotonFinderStatistics } from '../../photon/photonFinder.ts';
import type { UvCamera } from '../../photon/UvCamera.ts';
import { readPhotonEvents, writePhotonEvents } from '../../recording/photonEventTable.ts';
import { writeFileAtomically } from '../../recording/writeFileAtomically.ts';
import { Interrupted, type JobWatch } from '../JobWatch.ts';
import { openEventSource } from './eventSource.ts';
import { usualThreads } from './FrameThreads.ts';
import type { InspectableFlight } from './openAnyFlight.ts';

/** Frames between two checkpoints: half a minute of flight, a second or three of work to do again at most. */
const CHUNK_FRAMES = 1500;
/** Frames the dark model learns from before the first event is looked for. */
const WARM_UP_FRAMES = 64;
/** A shorter stream is done by the time that threads have started. */
const FEWEST_FOR_THREADS = 500;

export interface CollectedEvents {
  readonly events: PhotonEvents;
  /** What the finder learned; null where a recorder that crashed did not get to say it. */
  readonly finder: PhotonFinderStatistics | null;
}

/**
 * Reduces the uv stream of a flight to its photon events, reading every frame once (the first 64 twice).
 * After each chunk of frames the events and the state of the finder are put into `workFolder`; a run that was stopped goes
 * on from the last whole chunk and ends with the same events to the byte. The folder must belong to this flight and these
 * parameters alone.
 */
export async function collectEvents(
  flight: InspectableFlight,
  camera: UvCamera,
  workFolder: string,
  watch: JobWatch,
  threads = usualThreads(),
): Promise<CollectedEvents> {
  const { uvIndex, description, recorded } = flight;
  if (recorded) return { events: recorded.events, finder: recorded.statistics };
  const total = uvIndex.length;
  const chunks = Math.ceil(total / CHUNK_FRAMES);
  await mkdir(workFolder, { recursive: true });
  const stream = { camera, folder: flight.folder, stream: description.streams.uv, index: uvIndex };
  const source = await openEventSource(stream, total < FEWEST_FOR_THREADS ? 0 : threads);
  const { finder } = source;
  const tables: PhotonEvents[] = [];
  try {
    const done = await resumeAt(finder, workFolder);
    for (let chunk = 0; chunk < done; chunk++) tables.push(await readPhotonEvents(eventsFile(workFolder, chunk)));
    if (done > 0) watch.note(`Going on after ${Math.min(done * CHUNK_FRAMES, total)} frames done earlier.`);
    else finder.learnFrom(await source.firstFrames(WARM_UP_FRAMES));
    const builder = new PhotonEventsBuilder(CHUNK_FRAMES * 16);
    for (let chunk = done; chunk < chunks; chunk++) {
      builder.clear();
      const end = Math.min((chunk + 1) * CHUNK_FRAMES, total);
      for (let i = chunk * CHUNK_FRAMES; i < end; i++) {
        await source.addInto(builder, i);
        if (i % 50 === 0) {
          watch.progress('photon events', i, total, 'frames');
          if (watch.signal?.aborted) throw new Interrupted();
        }
      }
      const events = builder.finish();
      // Events first, then the state: a chunk counts as done when its state is there.
      await writePhotonEvents(eventsFile(workFolder, chunk), events);
      await writeFileAtomically(stateFile(workFolder, chunk), finder.snapshot());
      if (chunk > 0) await rm(stateFile(workFolder, chunk - 1), { force: true });
      tables.push(events);
    }
  } finally {
    await source.close();
  }
  watch.progress('photon events', total, total, 'frames');
  return { events: concatEvents(tables), finder: finder.statistics() };
}

/** Puts the finder into the state after the last whole chunk and says how many there are; 0 to begin anew. */
async function resumeAt(finder: PhotonFinder, workFolder: string): Promise<number> {
  const done = await wholeChunks(workFolder);
  if (done === 0) return 0;
  try {
    finder.restore(await readFile(stateFile(workFolder, done - 1)));
    return done;
  } catch (error) {
    // Left by another release, whose state has another form: its chunks are done again.
    if (error instanceof RangeError) return 0;
    throw error;
  }
}

const eventsFile = (folder: string, chunk: number): string =>
  join(folder, `events-${String(chunk).padStart(6, '0')}.parquet`);
const stateFile = (folder: string, chunk: number): string =>
  join(folder, `finder-${String(chunk).padStart(6, '0')}.state`);

/** How many chunks, from the first on without a gap, are whole: events of all of them, and the state after the last. */
async function wholeChunks(folder: string): Promise<number> {
  const names = new Set(await readdir(folder));
  const states = [...names].flatMap((name) => {
    const match = /^finder-(\d{6})\.state$/.exec(name);
    return match ? [Number(match[1])] : [];
  });
  for (const last of states.sort((a, b) => b - a)) {
    let whole = true;
    for (let chunk = 0; chunk <= last; chunk++) whole &&= names.has(`events-${String(chunk).padStart(6, '0')}.parquet`);
    if (whole) return last + 1;
  }
  return 0;
}
