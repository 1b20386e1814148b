import type { GreyFrame } from '../../camera/GreyFrame.ts';
import { NOT_A_PHOTON, type PhotonEvents } from '../../photon/PhotonEvents.ts';
import { meanChargeDn, type UvCamera } from '../../photon/UvCamera.ts';
import type { FrameIndex } from '../../recording/FrameIndex.ts';
import { glowsOf } from '../../sighting/glowTracks.ts';
import { eventsWithin, type FrameRange, type FrameSample, levelsOf, StillRows } from './sampleFrames.ts';

/** Images looked at of one stretch. */
const IMAGES_A_STRETCH = 3;
const STRETCH_FRAMES = 150;
const MOST_BUSY = 16;
/** Frames with a glow that a busy stretch has at least. */
const LEAST_GLOWS = 10;

/** Stretches of a recording in which bright sources show, by the glows in single frames; apart from those already chosen. */
export function busyRanges(events: PhotonEvents, frames: number, taken: readonly FrameRange[]): FrameRange[] {
  const glows = new Uint16Array(Math.ceil(frames / STRETCH_FRAMES));
  for (let from = 0; from < events.count; ) {
    let to = from;
    while (to < events.count && events.frame[to] === events.frame[from]) to++;
    if (to - from > 1 && glowsOf(events, from, to).length > 0) glows[Math.floor(events.frame[from] / STRETCH_FRAMES)]++;
    from = to;
  }
  return [...glows.keys()]
    .filter((k) => glows[k] >= LEAST_GLOWS)
    .sort((a, b) => glows[b] - glows[a] || a - b)
    .map((k) => ({ from: k * STRETCH_FRAMES, to: Math.min(frames, (k + 1) * STRETCH_FRAMES) }))
    .filter((r) => !taken.some((t) => r.from < t.to && t.from < r.to))
    .slice(0, MOST_BUSY)
    .sort((a, b) => a.from - b.from);
}

/**
 * What a stretch of a recording shows: its events as the recorder found them, and a few of the frames that it kept.
 * Repeated frames cannot be told, as neighbours are hardly ever kept; NaN where no frame of the stretch was.
 */
export async function sampleRecorded(
  range: FrameRange,
  camera: UvCamera,
  all: PhotonEvents,
  index: FrameIndex,
  images: { isKept(row: number): boolean; read(row: number): Promise<GreyFrame | null> },
): Promise<FrameSample & { readonly imagesRead: number }> {
  const events = eventsWithin(all, range);
  const kept = Array.from({ length: range.to - range.from }, (_, i) => range.from + i).filter((row) =>
    images.isKept(row),
  );
  const chosen = [
    ...new Set(
      Array.from({ length: IMAGES_A_STRETCH }, (_, i) => kept[Math.floor((i * kept.length) / IMAGES_A_STRETCH)]),
    ),
  ];
  const still = new StillRows(camera.widthPx, camera.heightPx);
  const levels: number[] = [];
  let saturated = 0;
  let looked = 0;
  for (const row of chosen) {
    const frame = row === undefined ? null : await images.read(row);
    if (!frame) continue;
    const found = levelsOf(frame, row, camera.saturationLevel);
    levels.push(found.middle);
    saturated += found.saturated;
    looked += found.looked;
    still.look(frame.data);
  }
  let photons = 0;
  let clean = 0;
  let ratio = 0;
  for (let e = 0; e < events.count; e++) {
    if ((events.flags[e] & NOT_A_PHOTON) === 0) photons++;
    if (events.flags[e] !== 0) continue;
    clean++;
    ratio += events.charge[e] / meanChargeDn(camera, index[events.frame[e]].gain);
  }
  return {
    ...range,
    fromNs: index[range.from].tNs,
    toNs: index[range.to - 1].tNs,
    gain: index[range.from].gain,
    events,
    eventsPerFrame: photons / (range.to - range.from),
    darkDn: levels.length > 0 ? levels.reduce((a, b) => a + b, 0) / levels.length : Number.NaN,
    saturatedShare: looked > 0 ? saturated / looked : 0,
    repeatedFrames: 0,
    // Two images that agree in a row say little; three do.
    stuckRows: levels.length >= IMAGES_A_STRETCH ? still.rows() : [],
    chargeRatio: clean > 0 ? ratio / clean : Number.NaN,
    chargeCount: clean,
    imagesRead: levels.length,
  };
}
