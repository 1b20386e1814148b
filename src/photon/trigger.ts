import { poissonCdf, poissonTail } from '../maths/distributions.ts';
import { EVENT_FLAGS, NOT_A_PHOTON } from './PhotonEvents.ts';

export interface TriggerOptions {
  readonly widthPx: number;
  readonly heightPx: number;
  /** Radius within which the events of one point fall about its path, 1 sigma, px. */
  readonly blurSigmaPx: number;
  /** Glows that chance alone may make in an hour of background. */
  readonly falseGlowsPerHour: number;
  readonly frameRateHz: number;
  /** Longest stretch of frames over which events are one glow. Default 25: half a second at 50 Hz. */
  readonly windowFrames?: number;
  /** Fastest motion of the scene through the image that is followed. Default 20. */
  readonly fastestPxPerFrame?: number;
}

/** The columns of one frame's photon events that the trigger looks at; rows `from` to `to`. */
export interface FrameEvents {
  readonly xPx: ArrayLike<number>;
  readonly yPx: ArrayLike<number>;
  readonly charge: ArrayLike<number>;
  readonly flags: ArrayLike<number>;
  readonly from: number;
  readonly to: number;
}

export type Glow =
  | { readonly kind: 'none' }
  /** Events on one path through image and time, more than chance explains. */
  | {
      readonly kind: 'cluster';
      readonly xPx: number;
      readonly yPx: number;
      readonly events: number;
      readonly frames: number;
    }
  /** One event with more light than a photon gives, and where it stands alone, than the camera's stray spots had before. */
  | { readonly kind: 'flash'; readonly xPx: number; readonly yPx: number; readonly meanCharges: number };

export interface GlowTrigger {
  /** Judges the next frame, in order of time; uses nothing but this frame and the ones before. */
  judge(events: FrameEvents, meanChargeDn: number): Glow;
  /** Forgets the frames before: after a gap, nothing moves on a straight path. */
  forget(): void;
  /** Events a frame that the trigger takes for background, over the whole image. */
  backgroundPerFrame(): number;
}

/** Events looked back at, at most: bounds memory and time where the background is strong. */
const MOST_EVENTS = 160;
/** Cells of the background map, per side. Large against a tube, so that a source adds nothing to its own background. */
const CELLS = 6;
/** Memory of the background map, in frames. */
const BACKGROUND_FRAMES = 500;
/** Share of the false glows that single bright events may take. */
const FLASH_SHARE = 0.1;
/** Relative spread of the charge of one photon event; its law is taken as a gamma. */
const CHARGE_SPREAD = 0.6;
/** By how much a bright event that stood alone must be outdone by the next one. */
const STRAY_RAISE = 1.5;
/** Half-width of the tube about a path, in blur radii: holds 95 % of a point's events (1 - exp(-2.45² / 2)). */
const TUBE_RADII = 2.45;
/** A path is drawn through two events that scatter themselves, and a scene does not move quite evenly. */
const PATH_SLACK_PX = 1;

/**
 * Decides frame by frame whether something glows. Each new event is joined with each event of the last frames to a straight
 * path no faster than the scene can move, and the further events within a tube about the path are counted. How many
 * make a glow follows from the false glows allowed: the expected number of paths that chance fills so far is
 * (pairs an hour) · P(Poisson(mean of the tube) >= count), summed over spans; an expected number bounds a probability from
 * above, and paths that share events make one glow, so that the true rate of false glows is lower.
 * Causal, constant memory and bounded time. The background is learned as it goes, in cells of the image.
 */
export function startGlowTrigger(options: TriggerOptions): GlowTrigger {
  const { widthPx, heightPx, frameRateHz } = options;
  const windowFrames = options.windowFrames ?? 25;
  const fastest = options.fastestPxPerFrame ?? 20;
  const areaPx2 = widthPx * heightPx;
  const tubePx = TUBE_RADII * Math.SQRT2 * options.blurSigmaPx + PATH_SLACK_PX;
  const tubeAreaPx2 = Math.PI * tubePx * tubePx;
  const framesPerHour = 3600 * frameRateHz;
  const clusterShare = ((1 - FLASH_SHARE) * options.falseGlowsPerHour) / windowFrames;
  const flashShare = FLASH_SHARE * options.falseGlowsPerHour;

  /** Events of the last frames, newest last. */
  const seen = {
    frame: new Int32Array(MOST_EVENTS),
    xPx: new Float64Array(MOST_EVENTS),
    yPx: new Float64Array(MOST_EVENTS),
  };
  let seenCount = 0;
  let frameNumber = 0;
  const cells = new Float64Array(CELLS * CELLS);
  let learnedFrames = 0;

  const reachPx = (span: number): number => fastest * span + tubePx;
  const cellOf = (xPx: number, yPx: number): number =>
    clamp(Math.floor((yPx / heightPx) * CELLS)) * CELLS + clamp(Math.floor((xPx / widthPx) * CELLS));
  const background = (): number => cells.reduce((sum, x) => sum + x, 0);

  /** Least number of further events in the tube that make a glow, by span and density. Remembered by density in steps of 5 %. */
  let needed = new Map<number, number>();
  const furtherNeeded = (span: number, densityPerPx2: number, perFrame: number): number => {
    const step = Math.ceil(Math.log(Math.max(densityPerPx2, 1e-12)) / 0.05);
    const rate = Math.ceil(Math.log(Math.max(perFrame, 1e-3)) / 0.05);
    const key = (step * 4096 + (rate + 2048)) * 64 + span;
    const known = needed.get(key);
    if (known !== undefined) return known;
    const density = Math.exp(0.05 * step);
    const events = Math.exp(0.05 * rate);
    const partners = density * Math.min(areaPx2, Math.PI * reachPx(span) ** 2);
    const pairs = framesPerHour * events * partners;
    const mean = density * tubeAreaPx2 * (span + 1);
    let further = 1;
    while (pairs * poissonTail(further, mean) > clusterShare) further++;
    if (needed.size > 4096) needed = new Map();
    needed.set(key, further);
    return further;
  };

  /**
   * Ion spots and cosmic rays are bright, alone, and as frequent as the camera makes them: what is brighter than photons is held against
   * what was seen of them. One that passes raises the bar above itself; the bar sinks by as much in the time in which
   * one may pass, so that in the long run no more pass than are allowed.
   */
  let strayCharges = 0;
  const sinkPerFrame = STRAY_RAISE ** (-flashShare / framesPerHour);

  let flash = { perFrame: Number.NaN, charges: 0 };
  /** Charge, in means, that one photon reaches less often than the false glows allow. */
  const flashCharges = (perFrame: number): number => {
    const rounded = Math.exp(0.1 * Math.ceil(Math.log(Math.max(perFrame, 1e-3)) / 0.1));
    if (flash.perFrame !== rounded) {
      let low = 1;
      let high = 100;
      while (high - low > 0.01) {
        const middle = (low + high) / 2;
        if (framesPerHour * rounded * chargeTail(middle) > flashShare) low = middle;
        else high = middle;
      }
      flash = { perFrame: rounded, charges: high };
    }
    return flash.charges;
  };

  const forgetBefore = (oldest: number): void => {
    let drop = 0;
    while (drop < seenCount && seen.frame[drop] < oldest) drop++;
    if (drop === 0) return;
    for (const column of [seen.frame, seen.xPx, seen.yPx]) column.copyWithin(0, drop, seenCount);
    seenCount -= drop;
  };
  const remember = (xPx: number, yPx: number): void => {
    if (seenCount === MOST_EVENTS) forgetBefore(seen.frame[0] + 1);
    if (seenCount === MOST_EVENTS) return;
    seen.frame[seenCount] = frameNumber;
    seen.xPx[seenCount] = xPx;
    seen.yPx[seenCount] = yPx;
    seenCount++;
  };

  /** The fullest path that ends in the given remembered event, if it is more than chance explains. */
  const clusterAt = (last: number, perFrame: number): Glow => {
    const x = seen.xPx[last];
    const y = seen.yPx[last];
    const cell = atMost(cells[cellOf(x, y)], learnedFrames + 1);
    // Light is seldom spread evenly: where the image is brighter than its mean, the local density counts.
    const density = Math.max(perFrame / areaPx2, (cell * CELLS * CELLS) / areaPx2, 1e-9);
    for (let first = last - 1; first >= 0; first--) {
      const span = frameNumber - seen.frame[first];
      const dx = seen.xPx[first] - x;
      const dy = seen.yPx[first] - y;
      const reach = reachPx(span);
      if (dx * dx + dy * dy > reach * reach) continue;
      const vx = span === 0 ? 0 : dx / span;
      const vy = span === 0 ? 0 : dy / span;
      let further = 0;
      for (let i = last - 1; i >= 0 && seen.frame[i] >= seen.frame[first]; i--) {
        if (i === first) continue;
        const back = frameNumber - seen.frame[i];
        const offX = seen.xPx[i] - (x + vx * back);
        const offY = seen.yPx[i] - (y + vy * back);
        if (offX * offX + offY * offY <= tubePx * tubePx) further++;
      }
      if (further > 0 && further >= furtherNeeded(span, density, perFrame))
        return { kind: 'cluster', xPx: x, yPx: y, events: further + 2, frames: span + 1 };
    }
    return { kind: 'none' };
  };

  return {
    judge(events, meanChargeDn) {
      forgetBefore(frameNumber - windowFrames + 1);
      // Until something was learned, one event a frame is assumed, so that a stream that begins in a glow shows it.
      const perFrame = learnedFrames === 0 ? 1 : atMost(background(), learnedFrames);
      let glow: Glow = { kind: 'none' };
      const keep = 1 - 1 / Math.min(BACKGROUND_FRAMES, learnedFrames + 1);
      for (let c = 0; c < cells.length; c++) cells[c] *= keep;
      for (let row = events.from; row < events.to; row++) {
        const flags = events.flags[row];
        const xPx = events.xPx[row];
        const yPx = events.yPx[row];
        const charges = events.charge[row] / meanChargeDn;
        const alone = (flags & EVENT_FLAGS.tooBright) !== 0;
        if (
          (flags & (EVENT_FLAGS.hotPixel | EVENT_FLAGS.afterglow)) === 0 &&
          charges > flashCharges(perFrame) &&
          (!alone || charges > strayCharges)
        ) {
          if (alone) strayCharges = STRAY_RAISE * charges;
          if (glow.kind === 'none') glow = { kind: 'flash', xPx, yPx, meanCharges: charges };
        }
        if ((flags & NOT_A_PHOTON) !== 0) continue;
        cells[cellOf(xPx, yPx)] += 1 - keep;
        remember(xPx, yPx);
        if (glow.kind === 'none') glow = clusterAt(seenCount - 1, perFrame);
      }
      strayCharges *= sinkPerFrame;
      learnedFrames++;
      frameNumber++;
      return glow;
    },
    forget() {
      seenCount = 0;
    },
    backgroundPerFrame: background,
  };
}

/** Two standard errors above a mean count that was learned from so many frames: little learned must not pass for little background. */
const atMost = (perFrame: number, frames: number): number => {
  const n = Math.min(frames, 2 * BACKGROUND_FRAMES);
  return perFrame + 2 * Math.sqrt(perFrame / n) + 2 / n;
};

const clamp = (cell: number): number => Math.min(CELLS - 1, Math.max(0, cell));

/** P(charge > x means) of one photon event: a gamma law of mean 1, whose tail is that of a Poisson law of x · shape. */
function chargeTail(meanCharges: number): number {
  const shape = 1 / CHARGE_SPREAD ** 2;
  return poissonCdf(shape - 1, meanCharges * shape);
}
