import type { GreyFrame } from '../../camera/GreyFrame.ts';
import type { PhotonEventsBuilder } from '../../photon/PhotonEventsBuilder.ts';
import { type PhotonFinder, startPhotonFinder } from '../../photon/photonFinder.ts';
import { openUvFrames } from '../../recording/uvFrames.ts';
import { FrameThreads, type ThreadedStream } from './FrameThreads.ts';

/** The photon events of a stream, frame by frame in order. */
export interface EventSource {
  readonly finder: PhotonFinder;
  /** The first frames, for the finder to learn from before it is asked for events. */
  firstFrames(count: number): Promise<GreyFrame[]>;
  /** Adds the events of frame `i`; from the first call on, frames come one after the other. */
  addInto(events: PhotonEventsBuilder, i: number): Promise<void>;
  close(): Promise<void>;
}

/** @param threads how many share the work; the events are the same, to the byte, however many there are, and 0 works in this one */
export async function openEventSource(of: ThreadedStream, threads: number): Promise<EventSource> {
  const { camera, folder, stream, index } = of;
  const team = FrameThreads.start(of, threads);
  const finder = startPhotonFinder(camera, { shared: team?.shared ?? null });
  const frames = await openUvFrames(folder, stream, index, finder.frameBuffers[0]);

  const addByTeam = async (events: PhotonEventsBuilder, i: number, by: FrameThreads): Promise<void> => {
    // What lies behind the end of a block has to wait for the dark level that the block leaves.
    const end = Math.min(index.length, i + finder.framesOfBlockLeft());
    let { place, reading } = await by.take(i, end);
    if (!finder.holds(reading, index[i].gain)) {
      await by.rest();
      finder.renewThresholds();
      await by.readAgain();
      ({ place, reading } = await by.take(i, end));
    }
    const { widthPx, heightPx } = camera;
    finder.addReadInto(events, { widthPx, heightPx, data: finder.frameBuffers[place] }, index[i], reading);
  };

  return {
    finder,
    async firstFrames(count) {
      const first: GreyFrame[] = [];
      for (let i = 0; i < Math.min(count, index.length); i++) first.push(await frames.read(i));
      return first;
    },
    async addInto(events, i) {
      if (team) await addByTeam(events, i, team);
      else finder.addInto(events, await frames.borrow(i), index[i]);
    },
    async close() {
      await team?.stop();
      await frames.close();
    },
  };
}
