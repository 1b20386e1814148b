import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import { eventAt, PhotonEventsBuilder } from '../../photon/PhotonEventsBuilder.ts';
import type { ResponseStretch } from '../../photon/response/measureCameraResponse.ts';
import type { FrameIndex } from '../../recording/FrameIndex.ts';

/**
 * Frames and their events put together by gain, exposure and light, in order of first appearance.
 * @param lightOf null: the frame is left out
 */
export function stretchesOf(
  index: FrameIndex,
  events: PhotonEvents,
  lightOf: (frame: number) => ResponseStretch['light'] | null,
): ResponseStretch[] {
  const groups = new Map<string, { stretch: Omit<ResponseStretch, 'events' | 'frames'>; frames: number[] }>();
  const builders = new Map<string, PhotonEventsBuilder>();
  const keyOf = new Array<string | null>(index.length).fill(null);
  index.forEach(({ gain, exposureNs }, frame) => {
    const light = lightOf(frame);
    if (light === null) return;
    const key = `${light} ${gain} ${exposureNs}`;
    keyOf[frame] = key;
    const group = groups.get(key);
    if (group) group.frames.push(frame);
    else {
      groups.set(key, { stretch: { gain, exposureS: exposureNs * 1e-9, light }, frames: [frame] });
      builders.set(key, new PhotonEventsBuilder());
    }
  });
  for (let i = 0; i < events.count; i++) {
    const key = keyOf[events.frame[i]];
    if (key === null || key === undefined) continue;
    builders.get(key)!.add(eventAt(events, i));
  }
  return [...groups].map(([key, { stretch, frames }]) => ({
    ...stretch,
    frames,
    events: builders.get(key)!.finish(),
  }));
}
