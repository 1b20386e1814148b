import type { GreyFrame } from '../../camera/GreyFrame.ts';
import { InputError } from '../../input/InputError.ts';
import type { Random } from '../../maths/random.ts';
import { addPhotonsInto, type PhotonSpot } from '../../photon/addPhotonsInto.ts';
import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import { PhotonEventsBuilder } from '../../photon/PhotonEventsBuilder.ts';
import { startPhotonFinder } from '../../photon/photonFinder.ts';
import { meanChargeDn, type UvCamera } from '../../photon/UvCamera.ts';
import type { FrameEntry } from '../../recording/FrameIndex.ts';
import { openUvFrames } from '../../recording/uvFrames.ts';
import type { FramePoses } from '../../sighting/EventRays.ts';
import { injectSource, type SyntheticSource } from '../../sighting/injectSource.ts';
import { isFoundAmong, posesAround, type SearchedFlight, type ViewOfPlace } from '../../sighting/tryInjection.ts';
import type { Inspection } from '../inspect/openInspection.ts';
import { type SingleEvents, singleEvents } from '../inspect/singleEvents.ts';
import type { TryOne } from './injectComponent.ts';

/** Frames from which the finder learns the dark level of a stretch; they are searched like the others. */
const WARM_UP_FRAMES = 64;
/** An event nearer than this many spot radii to an added photon of its frame is of it. */
const OWN_RADII = 2.5;

const NO_EVENTS: PhotonEvents = {
  count: 0,
  frame: new Int32Array(0),
  tNs: new Float64Array(0),
  xPx: new Float64Array(0),
  yPx: new Float64Array(0),
  charge: new Float32Array(0),
  sigmaPx: new Float32Array(0),
  flags: new Uint8Array(0),
};

interface Stretch {
  readonly view: ViewOfPlace;
  readonly poses: FramePoses;
  readonly entries: readonly FrameEntry[];
  readonly frames: readonly GreyFrame[];
}

/**
 * Injection into the images: the photons of a synthetic discharge are added to the frames of a view as spots with the flight's own law of
 * charges, the finder looks for events in them as in an inspection, and these are searched. Thus what the finder loses, merges and
 * flags is in the result.
 * @throws InputError for a recording, which holds images around glows alone
 */
export async function openFrameInjection(
  { flight, rig }: Inspection,
  events: PhotonEvents,
): Promise<{ readonly tryOne: TryOne }> {
  if (flight.recorded)
    throw new InputError({
      file: flight.descriptionFile,
      found: 'a recording, which keeps images around glows alone',
      expected: 'a flight with all of its ultraviolet frames',
      todo: 'Leave out --into-frames: synthetic events are then added to those of the recording.',
    });
  const camera = rig.cameras.uv;
  const { uvIndex, folder, description } = flight;
  const single = singleEvents(
    events,
    (f) => uvIndex[f].gain,
    (gain) => meanChargeDn(camera, gain),
    new Set(),
  );
  const entryOf = new Map(uvIndex.map((entry) => [entry.frame, entry]));
  let last: Stretch | null = null;

  const stretchOf = async (searched: SearchedFlight, view: ViewOfPlace): Promise<Stretch> => {
    if (last?.view === view) return last;
    const poses = posesAround(searched, view);
    const entries = Array.from(poses.frame, (frame) => entryOf.get(frame)).filter((entry) => entry !== undefined);
    const reader = await openUvFrames(folder, description.streams.uv, entries);
    const frames: GreyFrame[] = [];
    try {
      for (let i = 0; i < entries.length; i++) frames.push(await reader.read(i));
    } finally {
      await reader.close();
    }
    last = { view, poses, entries, frames };
    return last;
  };

  return {
    async tryOne(searched, view, source, random) {
      const stretch = await stretchOf(searched, view);
      const photons = photonsByFrame(searched, stretch, source, single, random);
      const found = eventsOfStretch(stretch, photons, camera, random);
      const own = Uint8Array.from({ length: found.count }, (_, i) =>
        (photons.get(found.frame[i]) ?? []).some(
          (spot) => Math.hypot(spot.xPx - found.xPx[i], spot.yPx - found.yPx[i]) < OWN_RADII * camera.spotSigmaPx,
        )
          ? 1
          : 0,
      );
      return {
        events: own.reduce((sum, one) => sum + one, 0),
        found: isFoundAmong(searched, stretch.poses, found, own),
      };
    },
  };
}

/** The photons of a source on the sensor, with charges drawn from the law of single events. */
function photonsByFrame(
  { lens }: SearchedFlight,
  { poses, entries }: Stretch,
  source: SyntheticSource,
  single: SingleEvents,
  random: Random,
): Map<number, PhotonSpot[]> {
  // All photons, one by one: what merges and what is lost is the finder's business.
  const { events } = injectSource(NO_EVENTS, poses, lens, { ...source, finderEfficiency: 1, mergePx: 0 }, random);
  const gainOf = new Map(entries.map(({ frame, gain }) => [frame, gain]));
  const byFrame = new Map<number, PhotonSpot[]>();
  for (let i = 0; i < events.count; i++) {
    const frame = events.frame[i];
    const gain = gainOf.get(frame);
    if (gain === undefined) continue;
    const chargeDn = single.meanCharge(gain) * single.spread2 * random.gamma(1 / single.spread2);
    const spots = byFrame.get(frame) ?? [];
    spots.push({ xPx: events.xPx[i], yPx: events.yPx[i], chargeDn });
    byFrame.set(frame, spots);
  }
  return byFrame;
}

function eventsOfStretch(
  { entries, frames }: Stretch,
  photons: ReadonlyMap<number, readonly PhotonSpot[]>,
  camera: UvCamera,
  random: Random,
): PhotonEvents {
  const finder = startPhotonFinder(camera);
  finder.learnFrom(frames.slice(0, WARM_UP_FRAMES));
  const events = new PhotonEventsBuilder();
  entries.forEach((entry, i) => {
    const spots = photons.get(entry.frame);
    if (!spots) {
      finder.addInto(events, frames[i], entry);
      return;
    }
    const lit = { ...frames[i], data: frames[i].data.slice() };
    addPhotonsInto(lit, spots, camera, random);
    finder.addInto(events, lit, entry);
  });
  return events.finish();
}
