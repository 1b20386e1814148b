import type { RigDescription } from '../recording/RigDescription.ts';
import { streamHealth } from '../time/streamHealth.ts';
import type { BenchRun, TargetMark } from './BenchObservations.ts';
import { calibrateRig, type RigCalibrationOutcome } from './calibrateRig.ts';
import { clockBySweeps } from './clockBySweeps.ts';
import { clockFromCalibration } from './clockFromCalibration.ts';
import { fitRig, type LeftOutFrame, type RigFitOutcome } from './fitRig.ts';
import { misplacedFrames } from './frameOrder.ts';
import { applyHomography, homographyFromPoints } from './homography.ts';
import { type NamedMarks, pairStreams } from './pairByTime.ts';
import { type ClockOutcome, type StreamClock, searchClockOffset } from './streamClock.ts';

/** The marks found in each stream, and the stamps of all its frames, with marks or without. */
export interface BenchStreams extends Omit<BenchRun, 'frames'> {
  readonly lamps: readonly NamedMarks[];
  readonly discs: readonly NamedMarks[];
  readonly stamps: { readonly uv: StampedFrames; readonly colour: StampedFrames };
}
export interface StampedFrames {
  readonly names: readonly string[];
  readonly tNs: readonly number[];
  readonly rateHz: number;
}

export interface FrameFault {
  readonly stream: 'uv' | 'colour';
  readonly frame: string;
  /** "3 frames missing after it", "repeats the frame before", "swapped with the next". */
  readonly what: string;
}

/** What the run says of time. */
export interface RunTiming {
  /** Whole offset and drift of the colour clock against the uv clock, from the target's motion. */
  readonly clock: ClockOutcome;
  /** Whether the pairing allowed for it: only where it stands out of its own error and shows in the overlay. */
  readonly applied: boolean;
  readonly faults: readonly FrameFault[];
}

/** Both streams as one run, with both cameras adjusted to it. */
export interface JoinedStreams {
  readonly fit: RigFitOutcome;
  /** The run as it was paired. */
  readonly run: BenchRun;
  readonly leftOut: readonly LeftOutFrame[];
  readonly timing: RunTiming;
}

type Correction = Pick<StreamClock, 'offsetMs' | 'driftPpm' | 'aboutNs'>;

/** A correction has to stand this far out of its error ... */
const SIGNIFICANT = 4;
/** ... and move the target by this much in the picture, or it only adds noise. */
const VISIBLE_PX = 0.02;

export interface StreamCalibration extends JoinedStreams {
  readonly outcome: RigCalibrationOutcome;
}

/** From marks in two streams to a calibration. */
export function calibrateStreams(rig: RigDescription, streams: BenchStreams): StreamCalibration {
  const joined = joinStreams(rig, streams);
  return { ...joined, outcome: calibrateRig(rig, joined.run, joined.fit) };
}

/**
 * From marks in two streams to one run: frames out of order set aside, streams brought together from the target's own
 * motion where their stamps do not agree, and adjusted again with the clock so found.
 */
export function joinStreams(rig: RigDescription, streams: BenchStreams): JoinedStreams {
  const { lamps, discs, stamps, ...target } = streams;
  const intervalNs = 1e9 / stamps.uv.rateHz;
  const leftOut: LeftOutFrame[] = [];
  const faults = [...missingFrames(streams, 'uv'), ...missingFrames(streams, 'colour')];
  const goodLamps = withoutMisplaced('uv', lamps, stamps.uv.rateHz, faults, leftOut);
  const goodDiscs = withoutMisplaced('colour', discs, stamps.colour.rateHz, faults, leftOut);

  const coarse = searchClockOffset(
    discsAmongLamps(goodLamps, streams.marks),
    lampsAmongPattern(goodDiscs, streams.marks),
    intervalNs,
  );
  const constant = coarse && { offsetMs: coarse.offsetMs, driftPpm: 0, aboutNs: 0 };
  let correction: Correction | null = coarse?.significant ? constant : null;
  // Streams far apart give no adjustment at all; then even an uncertain first offset is worth trying, and one that drifts.
  const untried = [
    () => (coarse?.significant ? null : constant),
    () => clockBySweeps(goodLamps, goodDiscs, intervalNs),
  ];
  for (let round = 0; ; round++) {
    const paired = pairStreams(goodLamps, goodDiscs, intervalNs, correction);
    const run: BenchRun = { ...target, frames: paired.frames };
    const fit = fitRig(rig, run);
    const other = fit.kind === 'refused' ? nextOf(untried) : null;
    if (other) {
      correction = other;
      round = -1;
      continue;
    }
    const clock: ClockOutcome =
      fit.kind === 'fitted'
        ? clockFromCalibration(run, fit.frames, fit.poses, fit.state, fit.factors, fit.correspondences)
        : { kind: 'refused', because: 'too few marks in motion' };
    if (round < 3 && clock.kind === 'estimated' && standsOut(clock, run)) {
      correction = composed(correction, clock);
      continue;
    }
    const whole = clock.kind === 'estimated' ? { ...clock, ...composed(correction, clock) } : clock;
    // The coarse search is easily led by the shape of the mapping: what does not stand out in the end is undone.
    if (round < 4 && correction !== null && whole.kind === 'estimated' && !standsOut(whole, run)) {
      correction = null;
      round = 4;
      continue;
    }
    for (const frame of paired.unpaired) leftOut.push({ frame, because: 'no lamps at the same instant' });
    return {
      fit,
      run,
      leftOut,
      timing: { clock: whole, applied: correction !== null, faults },
    };
  }
}

function nextOf(untried: (() => Correction | null)[]): Correction | null {
  while (untried.length > 0) {
    const correction = untried.shift()!();
    if (correction) return correction;
  }
  return null;
}

/** Nothing is corrected that the eye of the overlay could not see. */
function standsOut(clock: StreamClock, run: BenchRun): boolean {
  const halfRunS = run.frames.reduce((most, f) => Math.max(most, Math.abs(f.tNs - clock.aboutNs) * 1e-9), 0);
  const offsetPx = Math.abs(clock.offsetMs) * 1e-3 * clock.speedPxPerS;
  const driftPx = Math.abs(clock.driftPpm) * 1e-6 * halfRunS * clock.speedPxPerS;
  return (
    (Math.abs(clock.offsetMs) > SIGNIFICANT * clock.offsetSigmaMs && offsetPx > VISIBLE_PX) ||
    (Math.abs(clock.driftPpm) > SIGNIFICANT * clock.driftSigmaPpm && driftPx > VISIBLE_PX)
  );
}

/** The clock found on top of a correction that the stamps had already been given. */
function composed(before: Correction | null, { offsetMs, driftPpm, aboutNs }: Correction): Correction {
  if (!before) return { offsetMs, driftPpm, aboutNs };
  return {
    offsetMs: before.offsetMs + before.driftPpm * 1e-12 * (aboutNs - before.aboutNs) + offsetMs,
    driftPpm: before.driftPpm + driftPpm,
    aboutNs,
  };
}

/**
 * Where the discs would stand in the ultraviolet image: the board's plane laid over the lamps seen, frame by frame. A search that
 * takes a lamp for its disc is led astray by every turn of the board. Frames of fewer than four lamps stay as they are.
 */
function discsAmongLamps(lamps: readonly NamedMarks[], marks: readonly TargetMark[]): readonly NamedMarks[] {
  return lamps.map((frame) => {
    const seen = frame.marks.flatMap((m, i) => (m ? [{ m, at: marks[i].lampM }] : []));
    if (seen.length < 4 || marks.some((m) => m.sees)) return frame;
    const plane = homographyFromPoints(
      seen.map(({ at }) => [at[0], at[1]]),
      seen.map(({ m }) => [m.u, m.v]),
    );
    if (!plane) return frame;
    return {
      ...frame,
      marks: frame.marks.map((m, i) => {
        if (!m) return null;
        const [u, v] = applyHomography(plane, [marks[i].discM[0], marks[i].discM[1]]);
        return { u, v, sigmaPx: m.sigmaPx };
      }),
    };
  });
}

/** Where the lamps of a target with a pattern would stand in the colour image: the lamps' places laid over the pattern seen. */
function lampsAmongPattern(frames: readonly NamedMarks[], marks: readonly TargetMark[]): readonly NamedMarks[] {
  if (!marks.some((m) => m.sees === 'lamp')) return frames;
  return frames.map((frame) => {
    const seen = frame.marks.flatMap((m, i) => (m ? [{ m, at: marks[i].discM }] : []));
    const plane = homographyFromPoints(
      seen.map(({ at }) => [at[0], at[1]]),
      seen.map(({ m }) => [m.u, m.v]),
    );
    if (!plane) return frame;
    return {
      ...frame,
      marks: marks.map((mark) => {
        if (mark.sees !== 'lamp') return null;
        const [u, v] = applyHomography(plane, [mark.lampM[0], mark.lampM[1]]);
        return { u, v, sigmaPx: seen[0].m.sigmaPx };
      }),
    };
  });
}

/** Gaps between sweeps are nobody's loss; inside a sweep every frame is due. */
function missingFrames(streams: BenchStreams, stream: 'uv' | 'colour'): FrameFault[] {
  const { names, tNs, rateHz } = streams.stamps[stream];
  return streams.sweeps.flatMap((sweep) => {
    const rows = tNs.flatMap((t, i) => (t >= sweep.fromNs && t <= sweep.toNs ? [i] : []));
    return streamHealth(
      rows.map((i) => tNs[i]),
      rateHz,
    ).gaps.map((gap) => ({
      stream,
      frame: names[rows[gap.afterRow]],
      what: `${gap.missing} ${gap.missing === 1 ? 'frame' : 'frames'} missing after it`,
    }));
  });
}

function withoutMisplaced(
  stream: 'uv' | 'colour',
  frames: readonly NamedMarks[],
  rateHz: number,
  faults: FrameFault[],
  leftOut: LeftOutFrame[],
): NamedMarks[] {
  const bad = new Set<number>();
  for (const { index, kind } of misplacedFrames(frames, 1e9 / rateHz)) {
    const { name } = frames[index];
    bad.add(index);
    faults.push({ stream, frame: name, what: kind === 'repeated' ? 'repeats the frame before' : kind });
    leftOut.push({
      frame: name,
      because: `${stream} frame ${kind === 'repeated' ? 'delivered twice' : 'out of order'}`,
    });
    if (kind === 'repeated') continue;
    bad.add(index + 1);
    leftOut.push({ frame: frames[index + 1].name, because: `${stream} frame out of order` });
  }
  return frames.filter((_, i) => !bad.has(i));
}
