import { EVENT_FLAGS } from './PhotonEvents.ts';
import type { EventShape } from './readRegion.ts';

/** How many frames back the surroundings of a bright event are asked whether something shines there. */
const FRAMES_BACK = 4;
/** A single photon of this many mean charges is rarer than one in 10⁵ at a relative spread of 0.6. */
const TOO_MANY_CHARGES = 6;
/** A region longer than this many spot radii, out of nowhere, is a track. */
const TRACK_RADII = 9;

/** Times the measured share of afterglow that an event may have and still be one, and a least limit for what noise adds. */
const OVER_MEASURED = 2.5;
const LEAST_LIMIT = 0.1;

interface Seen {
  readonly xPx: number;
  readonly yPx: number;
  readonly charge: number;
  readonly radiusPx: number;
}

/** The events of the last few frames: what tells afterglow and cosmic rays from light. */
export class RecentEvents {
  readonly #spotSigmaPx: number;
  readonly #afterglowShare: number;
  /** Newest first. */
  #frames: Seen[][] = [];

  constructor(spotSigmaPx: number, afterglowShare: number) {
    this.#spotSigmaPx = spotSigmaPx;
    this.#afterglowShare = afterglowShare;
  }

  /**
   * Sets the flags `afterglow` and `tooBright` of a frame's events, then remembers them. Call once a frame, in order.
   * @param measuredShare of a spot's light that comes again in the next frame; 0 while unknown
   */
  judgeInto(events: EventShape[], meanCharge: number, measuredShare = 0): void {
    // Once the phosphor's share is known, what is far more than that is light of its own.
    const share =
      measuredShare > 0
        ? Math.min(this.#afterglowShare, Math.max(LEAST_LIMIT, OVER_MEASURED * measuredShare))
        : this.#afterglowShare;
    for (const event of events) {
      if (event.lonePixel < 0 && this.#isAfterglow(event, share)) event.flags |= EVENT_FLAGS.afterglow;
      else if (this.#outOfNowhere(event, meanCharge)) event.flags |= EVENT_FLAGS.tooBright;
    }
    this.#frames.unshift(
      events
        .filter((event) => event.lonePixel < 0)
        .map(({ xPx, yPx, charge, radiusPx }) => ({ xPx, yPx, charge, radiusPx })),
    );
    this.#frames.length = Math.min(this.#frames.length, FRAMES_BACK);
  }

  #isAfterglow(event: EventShape, share: number): boolean {
    for (const seen of this.#frames[0] ?? []) {
      const reach = 3 * event.sigmaPx + 0.3 * this.#spotSigmaPx + (seen.radiusPx - this.#spotSigmaPx);
      if (event.charge < share * seen.charge && Math.hypot(event.xPx - seen.xPx, event.yPx - seen.yPx) < reach)
        return true;
    }
    return false;
  }

  /** Far more light than one photon gives, at a place where the frames before were dark. */
  #outOfNowhere(event: EventShape, meanCharge: number): boolean {
    const bright = event.charge > TOO_MANY_CHARGES * meanCharge;
    // Spots that were told apart are photons side by side, as a moving glow lays them.
    const isSplit = (event.flags & EVENT_FLAGS.split) !== 0;
    const long = !isSplit && event.extentPx > TRACK_RADII * this.#spotSigmaPx && event.charge > 2 * meanCharge;
    if (!bright && !long) return false;
    let around = 0;
    this.#frames.forEach((frame, k) => {
      // A source in the scene moves through the image; up to 10 px a frame it is still recognised.
      const reach = 12 + 10 * (k + 1) + event.radiusPx;
      for (const seen of frame)
        if (Math.hypot(event.xPx - seen.xPx, event.yPx - seen.yPx) < reach)
          around += Math.max(1, Math.floor(seen.charge / (3 * meanCharge)));
    });
    return around < 3;
  }

  state(): readonly (readonly Seen[])[] {
    return this.#frames;
  }

  resume(state: readonly (readonly Seen[])[]): void {
    this.#frames = state.map((frame) => [...frame]);
  }
}
