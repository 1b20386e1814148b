import type { GreyFrame } from '../../camera/GreyFrame.ts';
import { PhotonEventsBuilder } from '../../photon/PhotonEventsBuilder.ts';
import { startPhotonFinder } from '../../photon/photonFinder.ts';
import type { LampSignal } from '../../photon/response/chargeByLamp.ts';
import { lampSignal } from '../../photon/response/lampSignal.ts';
import type { ResponseStretch } from '../../photon/response/measureCameraResponse.ts';
import type { UvCamera } from '../../photon/UvCamera.ts';
import type { OpenedSeries } from '../../recording/openSeries.ts';
import { openUvFrames, type UvFrames } from '../../recording/uvFrames.ts';
import { Interrupted, type JobWatch } from '../JobWatch.ts';
import { stretchesOf } from './stretchesOf.ts';

export interface SeriesStretches {
  readonly stretches: ResponseStretch[];
  readonly signals: LampSignal[];
  readonly lampRefused: { readonly gain: number; readonly because: string }[];
  readonly noiseDn: number;
}

const WARM_UP_FRAMES = 64;
/** Side of the square that is cut out about the lamp, in radii of a spot. */
const LAMP_SIDE_SPOTS = 24;

/** Reduces a gain series: photon events of dark and evenly lit frames, pixel sums of the lamp. Reads the lamp's frames twice. */
export async function seriesStretches(
  series: OpenedSeries,
  camera: UvCamera,
  watch: JobWatch,
): Promise<SeriesStretches> {
  const { description, uvIndex } = series;
  const partOf = uvIndex.map(({ tNs }) => description.parts.find((p) => tNs >= p.fromNs && tNs <= p.toNs) ?? null);
  const frames = await openUvFrames(series.folder, description.streams.uv, uvIndex);
  try {
    const finder = startPhotonFinder(camera);
    const first: GreyFrame[] = [];
    for (let i = 0; i < Math.min(WARM_UP_FRAMES, uvIndex.length); i++) first.push(await frames.read(i));
    finder.learnFrom(first);
    const events = new PhotonEventsBuilder();
    const dark = new PictureSum(camera);
    const lit = new PictureSum(camera);
    for (let i = 0; i < uvIndex.length; i++) {
      if (watch.signal?.aborted) throw new Interrupted();
      if (i % 25 === 0) watch.progress('reading the series', i, uvIndex.length, 'frames');
      const light = partOf[i]?.light;
      if (light === undefined) continue;
      const frame = await frames.borrow(i);
      if (light === 'none') dark.add(frame);
      if (light === 'lamp') lit.add(frame);
      else finder.addInto(events, frame, uvIndex[i]);
    }
    watch.progress('reading the series', uvIndex.length, uvIndex.length, 'frames');
    const lamp = lit.count > 0 && dark.count > 0 ? await lampSignals(series, frames, partOf, dark, lit, camera) : [];
    return {
      stretches: stretchesOf(uvIndex, events.finish(), (frame) => {
        const light = partOf[frame]?.light;
        return light === 'none' || light === 'even' ? light : null;
      }),
      signals: lamp.filter((each) => each.kind === 'measured'),
      lampRefused: lamp.filter((each) => each.kind === 'refused').map(({ gain, because }) => ({ gain, because })),
      noiseDn: finder.statistics().meanNoiseDn,
    };
  } finally {
    await frames.close();
  }
}

/** Mean picture of many frames. */
class PictureSum {
  count = 0;
  readonly sumDn: Float64Array;

  constructor({ widthPx, heightPx }: UvCamera) {
    this.sumDn = new Float64Array(widthPx * heightPx);
  }

  add({ data }: GreyFrame): void {
    for (let i = 0; i < data.length; i++) this.sumDn[i] += data[i];
    this.count++;
  }
}

async function lampSignals(
  { uvIndex }: OpenedSeries,
  frames: UvFrames,
  partOf: readonly ({ readonly light: string } | null)[],
  dark: PictureSum,
  lit: PictureSum,
  camera: UvCamera,
): Promise<ReturnType<typeof lampSignal>[]> {
  const sidePx = 2 * Math.round((LAMP_SIDE_SPOTS * camera.spotSigmaPx) / 2) + 1;
  const [left, top] = brightestSquare(camera, sidePx, (i) => lit.sumDn[i] / lit.count - dark.sumDn[i] / dark.count);
  const cut = (at: (i: number) => number): Float64Array =>
    Float64Array.from({ length: sidePx * sidePx }, (_, k) =>
      at((top + Math.floor(k / sidePx)) * camera.widthPx + left + (k % sidePx)),
    );
  const byGain = new Map<number, Float64Array[]>();
  for (let i = 0; i < uvIndex.length; i++) {
    if (partOf[i]?.light !== 'lamp') continue;
    const { data } = await frames.borrow(i);
    const { gain } = uvIndex[i];
    byGain.set(gain, [...(byGain.get(gain) ?? []), cut((k) => data[k])]);
  }
  const darkDn = cut((i) => dark.sumDn[i] / dark.count);
  return [...byGain].map(([gain, squares]) =>
    lampSignal({ gain, sidePx, frames: squares }, darkDn, camera.saturationLevel),
  );
}

/** Left top corner of the square, wholly in the picture, in whose middle the smoothed picture is brightest. */
function brightestSquare(
  { widthPx, heightPx, spotSigmaPx }: UvCamera,
  sidePx: number,
  at: (i: number) => number,
): [number, number] {
  const reach = Math.ceil(2 * spotSigmaPx);
  const half = (sidePx - 1) / 2;
  let most = Number.NEGATIVE_INFINITY;
  let place: [number, number] = [0, 0];
  for (let y = half; y < heightPx - half; y++)
    for (let x = half; x < widthPx - half; x++) {
      if (at(y * widthPx + x) < most / (2 * reach + 1) ** 2 / 4) continue;
      let sum = 0;
      for (let v = y - reach; v <= y + reach; v++)
        for (let u = x - reach; u <= x + reach; u++) sum += at(v * widthPx + u);
      if (sum > most) {
        most = sum;
        place = [x - half, y - half];
      }
    }
  return place;
}
