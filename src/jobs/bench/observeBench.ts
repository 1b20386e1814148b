import { readColourFrame } from '../../recording/colourFrames.ts';
import type { OpenedBench } from '../../recording/openBench.ts';
import type { RigDescription } from '../../recording/RigDescription.ts';
import { openUvFrames } from '../../recording/uvFrames.ts';
import type { SeenMark } from '../../rig/BenchObservations.ts';
import type { BenchStreams } from '../../rig/calibrateStreams.ts';
import { findLamps, learnBackground } from '../../rig/findLamps.ts';
import type { LeftOutFrame } from '../../rig/fitRig.ts';
import type { FittedSpot } from '../../rig/fitSpots.ts';
import { type ExpectedView, type Identification, identifyMarks } from '../../rig/identifyMarks.ts';
import type { NamedMarks } from '../../rig/pairByTime.ts';
import { targetMarks } from '../../rig/targetMarks.ts';
import { visibleFinder } from './visibleFinder.ts';

export interface BenchProgress {
  readonly stage: 'lamps' | 'discs' | 'fit' | 'files';
  readonly done: number;
  readonly of: number;
}

export interface ObservedBench {
  readonly streams: BenchStreams;
  readonly leftOut: readonly LeftOutFrame[];
  readonly uvFrames: number;
  readonly colourFrames: number;
}

const BACKGROUND_FRAMES = 25;
/** Board turned by this at most in the image plane, and its scale off the stated range by this factor at most. */
const HELD = { rollRad: (40 * Math.PI) / 180, scaleFactor: 1.6 } as const;

/** Finds the target in every frame of both streams of a run. */
export async function observeBench(
  bench: OpenedBench,
  rig: RigDescription,
  onProgress: (progress: BenchProgress) => void,
): Promise<ObservedBench> {
  const { description, uvIndex, colourIndex, folder } = bench;
  const marks = targetMarks(description.target);
  const leftOut: LeftOutFrame[] = [];
  const sweepAt = (tNs: number): number => description.sweeps.findIndex((s) => tNs >= s.fromNs && tNs <= s.toNs);
  const viewFrom = (camera: { focalMm: number; pixelPitchUm: number }, sweep: number): ExpectedView => ({
    pxPerM: (1000 * camera.focalMm) / camera.pixelPitchUm / description.sweeps[sweep].rangeM,
    ...HELD,
  });

  const lamps: NamedMarks[] = [];
  const lampLayout = description.target.marks.map((m) => [m.lampM[0], m.lampM[1]] as const);
  const uvFrames = await openUvFrames(folder, description.streams.uv, uvIndex);
  try {
    const sample = [];
    const step = Math.max(1, Math.floor(uvIndex.length / BACKGROUND_FRAMES));
    for (let i = 0; i < uvIndex.length && sample.length < BACKGROUND_FRAMES; i += step)
      sample.push(await uvFrames.read(i));
    const background = learnBackground(sample);
    for (const entry of uvIndex) {
      onProgress({ stage: 'lamps', done: entry.frame, of: uvIndex.length });
      const sweep = sweepAt(entry.tNs);
      if (sweep < 0) {
        leftOut.push({ frame: `${entry.file} #${entry.frame}`, because: 'uv frame outside every sweep' });
        continue;
      }
      const spots = findLamps(
        await uvFrames.read(entry.frame),
        background,
        {
          saturationLevel: rig.cameras.uv.saturationLevel,
          spotSigmaPx: rig.cameras.uv.spotSigmaPx,
          blurSigmaPx: rig.cameras.uv.blurSigmaPx,
          meanChargeDn: meanChargeAt(rig, entry.gain),
        },
        3 * lampLayout.length + 3,
      );
      const found = nameLamps(lampLayout, spots, viewFrom(rig.cameras.uv, sweep));
      if (found.kind === 'refused') {
        leftOut.push({
          frame: `${entry.file} #${entry.frame}`,
          because: `lamps: ${found.because} (${found.spots} spots)`,
        });
        continue;
      }
      lamps.push({
        name: `${entry.file} #${entry.frame}`,
        tNs: entry.tNs,
        sweep,
        marks: marks.map((_, mark) => {
          const spot = found.spotOfMark[mark] ?? -1;
          return spot < 0 ? null : asSeen(spots[spot]);
        }),
      });
    }
  } finally {
    await uvFrames.close();
  }

  const found: NamedMarks[] = [];
  const finder = await visibleFinder(description.target);
  try {
    for (const entry of colourIndex) {
      onProgress({ stage: 'discs', done: entry.frame, of: colourIndex.length });
      const sweep = sweepAt(entry.tNs);
      if (sweep < 0) {
        leftOut.push({ frame: entry.file, because: 'colour frame outside every sweep' });
        continue;
      }
      const frame = await readColourFrame(folder, description.streams.colour, entry);
      const seen = finder.find(frame, viewFrom(rig.cameras.colour, sweep));
      if (seen.kind === 'refused') leftOut.push({ frame: entry.file, because: seen.because });
      else found.push({ name: entry.file, tNs: entry.tNs, sweep, marks: seen.marks });
    }
  } finally {
    finder.close();
  }
  return {
    streams: {
      marks,
      targetSigmaM: description.target.sigmaM,
      offsets: description.target.offsets,
      sweeps: description.sweeps,
      lamps,
      discs: found,
      stamps: {
        uv: {
          names: uvIndex.map((e) => `${e.file} #${e.frame}`),
          tNs: uvIndex.map((e) => e.tNs),
          rateHz: description.streams.uv.frameRateHz,
        },
        colour: {
          names: colourIndex.map((e) => e.file),
          tNs: colourIndex.map((e) => e.tNs),
          rateHz: description.streams.colour.frameRateHz,
        },
      },
    },
    leftOut,
    uvFrames: uvIndex.length,
    colourFrames: colourIndex.length,
  };
}

/** Share of the second brightest spot's charge down to which spots are taken for lamps, tried in turn. */
const BRIGHT_SHARES = [0.25, 0.05, 0];

/**
 * Which spot is which lamp. Ghosts of the frame before and sparks are far weaker than lamps, as a rule, and are left
 * out first; where lamps are missing then, as lamps may be of unlike brightness, weaker spots are let in.
 */
function nameLamps(
  layout: readonly (readonly [number, number])[],
  spots: readonly FittedSpot[],
  view: ExpectedView,
): (Identification & { kind: 'identified' }) | { kind: 'refused'; because: string; spots: number } {
  const reference = spots[Math.min(1, spots.length - 1)]?.chargeDn ?? 0;
  let best: (Identification & { kind: 'identified' }) | null = null;
  let refused: { because: string; spots: number } = { because: 'too few spots', spots: spots.length };
  let tried = -1;
  const countOf = (found: { spotOfMark: readonly number[] }): number => found.spotOfMark.filter((s) => s >= 0).length;
  for (const share of BRIGHT_SHARES) {
    // Sorted by charge: the brightest ones are the first ones.
    const bright = spots.filter((s) => s.chargeDn > share * reference);
    if (bright.length === tried) continue;
    tried = bright.length;
    const found = identifyMarks(
      layout,
      bright.map((s) => [s.u, s.v] as const),
      view,
    );
    if (found.kind === 'identified' && (!best || countOf(found) > countOf(best))) best = found;
    if (best && countOf(best) === layout.length) return best;
    if (found.kind === 'refused' && share === BRIGHT_SHARES[0]) refused = { because: found.because, spots: tried };
  }
  return best ?? { kind: 'refused', ...refused };
}

const asSeen = ({ u, v, sigmaPx }: SeenMark): SeenMark => ({ u, v, sigmaPx });

/** Mean charge of one photon event at a gain setting: log-linear between the points of the rig's curve. */
function meanChargeAt(rig: RigDescription, gain: number): number {
  const curve = rig.cameras.uv.gainCurve;
  const above = curve.findIndex((p) => p.gain >= gain);
  if (above <= 0) return above === 0 ? curve[0].meanChargeDn : curve[curve.length - 1].meanChargeDn;
  const [a, b] = [curve[above - 1], curve[above]];
  return a.meanChargeDn * (b.meanChargeDn / a.meanChargeDn) ** ((gain - a.gain) / (b.gain - a.gain));
}
