import type { GreyFrame } from '../../camera/GreyFrame.ts';
import { InputError } from '../../input/InputError.ts';
import { PhotonEventsBuilder } from '../../photon/PhotonEventsBuilder.ts';
import { type PhotonFinder, startPhotonFinder } from '../../photon/photonFinder.ts';
import { type GlowTrigger, startGlowTrigger } from '../../photon/trigger.ts';
import { meanChargeDn } from '../../photon/UvCamera.ts';
import type { FlightDescription } from '../../recording/FlightDescription.ts';
import type { RigDescription } from '../../recording/RigDescription.ts';
import type { FrameFate, StreamName } from '../../recording/recorder/FrameFate.ts';
import type { FrameLedger } from '../../recording/recorder/frameLedger.ts';
import { FrameOrder, type Ordered } from '../../recording/recorder/frameOrder.ts';
import type { IncomingColour, IncomingItem, IncomingUv } from '../../recording/recorder/IncomingItem.ts';
import { type Burden, burdenAt } from '../../recording/recorder/keepingUp.ts';
import type { RecordingWriter } from '../../recording/recorder/RecordingWriter.ts';
import { Retention } from '../../recording/recorder/retention.ts';
import { type RecorderSummary, RecorderTally } from './RecorderTally.ts';

export interface RecorderOptions {
  readonly preRollS: number;
  readonly postRollS: number;
  readonly falseGlowsPerHour: number;
  /** Keeps every frame: for a full recording to compare with. */
  readonly keepEverything: boolean;
}

export const RECORDER_DEFAULTS: RecorderOptions = {
  preRollS: 1,
  postRollS: 1,
  falseGlowsPerHour: 6,
  keepEverything: false,
};

/** Frames the dark level is learned from; an inspection of the full recording does the same, so that both find the same events. */
const WARM_UP_FRAMES = 64;
const LEAST_WARM_UP_FRAMES = 16;
const SECOND_NS = 1e9;
/** A pause of one camera this many frame periods long is told. */
const GAP_PERIODS = 10;

interface Arrived<Item> {
  readonly tNs: number;
  readonly arrival: number;
  readonly item: Item;
  readonly burden: Burden;
}
interface Placed {
  readonly tNs: number;
  readonly exposureNs: number;
  readonly gain: number;
  readonly segment: number;
  readonly arrival: number;
  readonly number: number;
}
type Settled = Omit<Placed, 'segment' | 'number'>;
interface WaitingUv extends Placed {
  /** The image of this second, which was given up. */
  readonly owed: boolean;
  /** null where recording was behind and images were given up. */
  readonly frame: GreyFrame | null;
}
interface WaitingColour extends Placed {
  readonly item: IncomingColour;
}

/**
 * Takes a stream item by item, once, and writes down what must not be lost: photon events of every frame, images around glows,
 * both cameras once a second, poses, and of every frame what became of it. Holds the frames of the pre-roll, and nothing that
 * grows with the length of the flight. Calls must not overlap.
 */
export class Recorder {
  readonly #writer: RecordingWriter;
  readonly #rig: RigDescription;
  readonly #description: FlightDescription;
  readonly #options: RecorderOptions;
  readonly #ledger: FrameLedger;
  readonly #order = { uv: new FrameOrder<Arrived<IncomingUv>>(), colour: new FrameOrder<Arrived<IncomingColour>>() };
  readonly #uvWaiting: Retention<WaitingUv>;
  readonly #colourWaiting: Retention<WaitingColour>;
  readonly #finder: PhotonFinder;
  readonly #trigger: GlowTrigger;
  readonly #events = new PhotonEventsBuilder();
  #warmUp: (Placed & { readonly frame: GreyFrame })[] | null = [];
  #numbers = { uv: 0, colour: 0 };
  #nextSecondNs = { uv: -Infinity, colour: -Infinity };
  #burden: Burden = 'everything';
  #newestNs = -Infinity;
  #glowUntilNs = -Infinity;
  readonly #tally = new RecorderTally();

  constructor(
    writer: RecordingWriter,
    ledger: FrameLedger,
    rig: RigDescription,
    description: FlightDescription,
    options: RecorderOptions,
  ) {
    this.#writer = writer;
    this.#ledger = ledger;
    this.#rig = rig;
    this.#description = description;
    this.#options = options;
    const { uv, colour } = description.streams;
    const [preNs, postNs] = [options.preRollS * SECOND_NS, options.postRollS * SECOND_NS];
    const most = (rateHz: number): number => Math.ceil(2 * options.preRollS * rateHz) + 8;
    this.#uvWaiting = new Retention(preNs, postNs, most(uv.frameRateHz));
    this.#colourWaiting = new Retention(preNs, postNs, most(colour.frameRateHz));
    this.#finder = startPhotonFinder(rig.cameras.uv);
    this.#trigger = startGlowTrigger({
      widthPx: uv.widthPx,
      heightPx: uv.heightPx,
      blurSigmaPx: rig.cameras.uv.blurSigmaPx,
      falseGlowsPerHour: options.falseGlowsPerHour,
      frameRateHz: uv.frameRateHz,
    });
  }

  /** @param lagS how far recording is behind the cameras; 0 where the stream waits for us */
  async take(item: IncomingItem, lagS: number): Promise<void> {
    await this.#carry(lagS);
    switch (item.kind) {
      case 'uv':
        return this.#arrive('uv', item);
      case 'colour':
        return this.#arrive('colour', item);
      case 'unreadable':
        await this.#note(`${item.stream}: a frame could not be read: ${item.what}`);
        return this.#settle(item.stream, this.#unknown(item.stream), 'dropped: unreadable');
      case 'pose':
        return this.#writer.pose(item.row, this.#tally.poses++);
      case 'lost pose':
        this.#tally.lostPoses++;
        return this.#note(`A pose could not be read: ${item.what}`);
      case 'note':
        return this.#note(item.text);
      case 'pause':
        return this.#writer.closeChunk();
    }
  }

  /** Gives every frame that still waits its fate. The writer is finished by the caller. */
  async finish(): Promise<void> {
    for (const ordered of this.#order.uv.flush()) await this.#nextUv(ordered);
    for (const ordered of this.#order.colour.flush()) await this.#nextColour(ordered);
    await this.#learnAndGoOn(LEAST_WARM_UP_FRAMES);
    if (this.#warmUp !== null && this.#warmUp.length > 0)
      await this.#note(
        `Only ${this.#warmUp.length} uv frames: too few to learn the dark level from. All are kept as images, none is reduced to events.`,
      );
    for (const waiting of this.#uvWaiting.releaseAll()) await this.#leaveUv(waiting);
    for (const waiting of this.#colourWaiting.releaseAll())
      await this.#settle('colour', waiting, 'not kept: no glow near');
  }

  /** Everything written so far is in the file. */
  acknowledge(): void {
    this.#tally.acknowledge();
  }

  /** The disk took no more: what is not acknowledged does not count. */
  loseTheRest(): void {
    this.#tally.loseTheRest();
  }

  summary(): RecorderSummary {
    return this.#tally.summary(
      this.#ledger.totals({ uv: this.#order.uv.putRight, colour: this.#order.colour.putRight }),
    );
  }

  /** What the finder has learned; null before the warm-up is over. */
  finderStatistics(): ReturnType<PhotonFinder['statistics']> | null {
    return this.#warmUp === null ? this.#finder.statistics() : null;
  }

  async #carry(lagS: number): Promise<void> {
    const burden = burdenAt(lagS, this.#burden);
    if (burden === this.#burden) return;
    this.#burden = burden;
    await this.#note(
      burden === 'everything'
        ? 'Recording keeps up again.'
        : `Recording is ${lagS.toFixed(1)} s behind and gives up ${GIVEN_UP[burden]}.`,
    );
  }

  async #arrive(stream: 'uv', item: IncomingUv): Promise<void>;
  async #arrive(stream: 'colour', item: IncomingColour): Promise<void>;
  async #arrive(stream: StreamName, item: IncomingUv | IncomingColour): Promise<void> {
    const arrival = this.#ledger.arrive(stream);
    this.#tally.imageBytesIn += item.bytes;
    const burden = this.#burden;
    if (burden === 'nothing' || (stream === 'colour' && burden !== 'everything'))
      return this.#settle(
        stream,
        { ...item, gain: item.kind === 'uv' ? item.gain : 0, arrival },
        'dropped: could not keep up',
      );
    const arrived = { tNs: item.tNs, arrival, burden };
    if (item.kind === 'uv')
      for (const ordered of this.#order.uv.push({ ...arrived, item })) await this.#nextUv(ordered);
    else for (const ordered of this.#order.colour.push({ ...arrived, item })) await this.#nextColour(ordered);
  }

  async #nextUv(ordered: Ordered<Arrived<IncomingUv>>): Promise<void> {
    if (ordered.kind === 'dropped')
      return this.#settle('uv', { ...ordered.item.item, arrival: ordered.item.arrival }, `dropped: ${ordered.because}`);
    if (ordered.kind === 'clock stepped back') {
      await this.#note(
        `uv: the clock was set back by ${(ordered.byNs / 1e9).toFixed(3)} s; segment ${ordered.segment} begins.`,
      );
      for (const waiting of this.#uvWaiting.releaseAll()) await this.#leaveUv(waiting);
      this.#trigger.forget();
      this.#glowUntilNs = -Infinity;
      this.#newestNs = -Infinity;
      this.#nextSecondNs.uv = -Infinity;
      return this.#writer.newClock();
    }
    const { item, arrival, burden } = ordered.item;
    await this.#noteGap('uv', ordered.gapNs, this.#description.streams.uv.frameRateHz);
    let frame: GreyFrame;
    try {
      frame = await item.read();
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      await this.#note(`uv: ${error.message}`);
      return this.#settle('uv', { ...item, arrival }, 'dropped: unreadable');
    }
    const { tNs, exposureNs, gain } = item;
    const placed: Placed = { tNs, exposureNs, gain, segment: ordered.segment, arrival, number: this.#numbers.uv++ };
    if (this.#warmUp !== null) {
      // Until events can be found, the images are all there is.
      await this.#keepUv({ ...placed, owed: false, frame }, 'kept: warm-up');
      this.#warmUp.push({ ...placed, frame });
      return this.#learnAndGoOn(WARM_UP_FRAMES);
    }
    await this.#reduce(placed, frame);
    const owed = this.#secondBegins('uv', tNs);
    await this.#decideUv({ ...placed, owed, frame: burden === 'no images' ? null : frame });
  }

  /** Once enough frames are there, learns from them and finds the events in them, as in all that follow. */
  async #learnAndGoOn(enough: number): Promise<void> {
    const first = this.#warmUp;
    if (first === null || first.length < enough) return;
    this.#finder.learnFrom(first.map(({ frame }) => frame));
    this.#warmUp = null;
    for (const { frame, ...placed } of first) await this.#reduce(placed, frame);
  }

  async #reduce(placed: Placed, frame: GreyFrame): Promise<void> {
    const { tNs, gain, number } = placed;
    this.#events.clear();
    this.#finder.addInto(this.#events, frame, { frame: number, tNs, gain });
    const found = this.#events.finish();
    await this.#writer.uvEvents(placed, number, found);
    this.#tally.photonEvents += found.count;
    this.#tally.uvFramesWithEvents++;
    const glow = this.#trigger.judge({ ...found, from: 0, to: found.count }, meanChargeDn(this.#rig.cameras.uv, gain));
    if (glow.kind === 'none') return;
    if (tNs > this.#glowUntilNs) {
      this.#tally.glows++;
      const place = `at ${glow.xPx.toFixed(1)}, ${glow.yPx.toFixed(1)} px`;
      await this.#writer.note(
        tNs,
        glow.kind === 'cluster'
          ? `Glow ${place}: ${glow.events} events on one path within ${glow.frames} frames.`
          : `Glow ${place}: a flash of ${glow.meanCharges.toFixed(0)} mean charges.`,
      );
    }
    this.#glowUntilNs = tNs + this.#options.postRollS * SECOND_NS;
    for (const waiting of this.#uvWaiting.glowAt(tNs)) await this.#keepUv(waiting, 'kept: glow');
    for (const waiting of this.#colourWaiting.glowAt(tNs)) await this.#keepColour(waiting, 'kept: glow');
  }

  async #decideUv(waiting: WaitingUv): Promise<void> {
    const { tNs } = waiting;
    if (this.#options.keepEverything) await this.#keepUv(waiting, 'kept: everything wanted');
    else if (waiting.owed && this.#burden === 'everything') await this.#keepUv(waiting, 'kept: one a second');
    else if (this.#uvWaiting.offer(waiting) === 'kept') await this.#keepUv(waiting, 'kept: glow');
    await this.#advance(tNs);
  }

  async #nextColour(ordered: Ordered<Arrived<IncomingColour>>): Promise<void> {
    const withoutGain = <T extends object>(item: T): T & { gain: number } => ({ ...item, gain: 0 });
    if (ordered.kind === 'dropped')
      return this.#settle(
        'colour',
        { ...withoutGain(ordered.item.item), arrival: ordered.item.arrival },
        `dropped: ${ordered.because}`,
      );
    if (ordered.kind === 'clock stepped back') {
      await this.#note(
        `colour: the clock was set back by ${(ordered.byNs / 1e9).toFixed(3)} s; segment ${ordered.segment} begins.`,
      );
      for (const waiting of this.#colourWaiting.releaseAll())
        await this.#settle('colour', waiting, 'not kept: no glow near');
      this.#nextSecondNs.colour = -Infinity;
      return this.#writer.newClock();
    }
    const { item, arrival } = ordered.item;
    await this.#noteGap('colour', ordered.gapNs, this.#description.streams.colour.frameRateHz);
    const { tNs, exposureNs } = item;
    const waiting: WaitingColour = {
      tNs,
      exposureNs,
      gain: 0,
      segment: ordered.segment,
      arrival,
      number: this.#numbers.colour++,
      item,
    };
    if (this.#options.keepEverything) await this.#keepColour(waiting, 'kept: everything wanted');
    else if (this.#secondBegins('colour', tNs)) await this.#keepColour(waiting, 'kept: one a second');
    else if (this.#colourWaiting.offer(waiting) === 'kept') await this.#keepColour(waiting, 'kept: glow');
    for (const past of this.#colourWaiting.release(this.#newestNs))
      await this.#settle('colour', past, 'not kept: no glow near');
  }

  /** Time went on: what no glow can reach any more is settled. */
  async #advance(tNs: number): Promise<void> {
    this.#newestNs = tNs;
    for (const past of this.#uvWaiting.release(tNs)) await this.#leaveUv(past);
    for (const past of this.#colourWaiting.release(tNs)) await this.#settle('colour', past, 'not kept: no glow near');
  }

  #secondBegins(stream: StreamName, tNs: number): boolean {
    if (tNs < this.#nextSecondNs[stream]) return false;
    this.#nextSecondNs[stream] = (Math.floor(tNs / SECOND_NS) + 1) * SECOND_NS;
    return true;
  }

  async #keepUv(waiting: WaitingUv, fate: FrameFate): Promise<void> {
    if (waiting.frame === null) return this.#settle('uv', waiting, 'reduced to events: could not keep up');
    await this.#writer.uvImage(waiting, waiting.number, waiting.frame);
    await this.#settle('uv', waiting, fate);
  }

  #leaveUv(waiting: WaitingUv): Promise<void> {
    return this.#settle('uv', waiting, waiting.owed ? 'reduced to events: could not keep up' : 'reduced to events');
  }

  async #keepColour(waiting: WaitingColour, fate: FrameFate): Promise<void> {
    try {
      const { format, bytes } = await waiting.item.read();
      await this.#writer.colourImage(waiting, waiting.number, format, bytes);
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      await this.#note(`colour: ${error.message}`);
      return this.#settle('colour', waiting, 'dropped: unreadable');
    }
    await this.#settle('colour', waiting, fate);
  }

  async #settle(stream: StreamName, at: Settled, fate: FrameFate): Promise<void> {
    // Counted first: should the disk refuse the row, the ledger knows that the frame was not acknowledged.
    this.#ledger.settle(stream, fate);
    await this.#writer.fate(stream, at, at.arrival, fate);
  }

  /** A frame whose stamp is not known stands in the record at the newest one that is. */
  #unknown(stream: StreamName): Settled {
    const tNs = Number.isFinite(this.#newestNs) ? this.#newestNs : 0;
    return { tNs, exposureNs: 0, gain: 0, arrival: this.#ledger.arrive(stream) };
  }

  async #noteGap(stream: StreamName, gapNs: number, rateHz: number): Promise<void> {
    if (gapNs === Infinity || gapNs * rateHz < GAP_PERIODS * 1e9) return;
    await this.#note(
      `${stream}: nothing for ${(gapNs / 1e9).toFixed(3)} s by its stamps: the camera dropped out, or its clock was set.`,
    );
    if (stream === 'uv') this.#trigger.forget();
  }

  async #note(text: string): Promise<void> {
    this.#tally.note(text);
    await this.#writer.note(Number.isFinite(this.#newestNs) ? this.#newestNs : 0, text);
  }
}

const GIVEN_UP: Readonly<Record<Exclude<Burden, 'everything'>, string>> = {
  'no documentation': 'the images once a second and all colour images',
  'no images': 'all images; events go on',
  nothing: 'whole frames, events too',
};
