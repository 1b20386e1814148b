import { readColourFrame } from '../../recording/colourFrames.ts';
import type { OpenedBench } from '../../recording/openBench.ts';
import type { RigDescription } from '../../recording/RigDescription.ts';
import { openUvFrames } from '../../recording/uvFrames.ts';
import type { SeenMark } from '../../rig/BenchObservations.ts';
import type { BenchStreams } from '../../rig/calibrateStreams.ts';
import { findDiscs } from '../../rig/findDiscs.ts';
import { findLamps, learnBackground } from '../../rig/findLamps.ts';
import type { LeftOutFrame } from '../../rig/fitRig.ts';
import { type ExpectedView, identifyMarks } from '../../rig/identifyMarks.ts';
import type { NamedMarks } from '../../rig/pairByTime.ts';

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
  const { marks } = description.target;
  const leftOut: LeftOutFrame[] = [];
  const sweepAt = (tNs: number): number => description.sweeps.findIndex((s) => tNs >= s.fromNs && tNs <= s.toNs);
  const viewFrom = (camera: { focalMm: number; pixelPitchUm: number }, sweep: number): ExpectedView => ({
    pxPerM: (1000 * camera.focalMm) / camera.pixelPitchUm / description.sweeps[sweep].rangeM,
    ...HELD,
  });

  const lamps: NamedMarks[] = [];
  const lampLayout = marks.map((m) => [m.lampM[0], m.lampM[1]] as const);
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
        3 * marks.length + 3,
      );
      // Ghosts of the frame before, single events and sparks are far weaker than a lamp.
      const brightest = spots[Math.min(1, spots.length - 1)]?.chargeDn ?? 0;
      const bright = spots.filter((s) => s.chargeDn > 0.25 * brightest);
      const found = identifyMarks(
        lampLayout,
        bright.map((s) => [s.u, s.v] as const),
        viewFrom(rig.cameras.uv, sweep),
      );
      if (found.kind === 'refused') {
        leftOut.push({
          frame: `${entry.file} #${entry.frame}`,
          because: `lamps: ${found.because} (${bright.length} spots)`,
        });
        continue;
      }
      lamps.push({
        name: `${entry.file} #${entry.frame}`,
        tNs: entry.tNs,
        sweep,
        marks: found.spotOfMark.map((s) => (s < 0 ? null : asSeen(bright[s]))),
      });
    }
  } finally {
    await uvFrames.close();
  }

  const found: NamedMarks[] = [];
  const discLayout = marks.map((m) => [m.discM[0], m.discM[1]] as const);
  const diameterM = Math.max(...marks.map((m) => m.discDiameterM));
  const leastDiameterM = Math.min(...marks.map((m) => m.discDiameterM));
  for (const entry of colourIndex) {
    onProgress({ stage: 'discs', done: entry.frame, of: colourIndex.length });
    const sweep = sweepAt(entry.tNs);
    if (sweep < 0) {
      leftOut.push({ frame: entry.file, because: 'colour frame outside every sweep' });
      continue;
    }
    const view = viewFrom(rig.cameras.colour, sweep);
    const area = (diameter: number): number => (Math.PI / 4) * (diameter * view.pxPerM) ** 2;
    const discs = findDiscs(await readColourFrame(folder, description.streams.colour, entry), {
      leastAreaPx: 0.4 * area(leastDiameterM),
      mostAreaPx: 2 * area(diameterM),
      most: 6 * marks.length + 6,
    });
    const identified = identifyMarks(
      discLayout,
      discs.map((d) => [d.u, d.v] as const),
      view,
    );
    if (identified.kind === 'refused') {
      leftOut.push({ frame: entry.file, because: `discs: ${identified.because} (${discs.length} discs)` });
      continue;
    }
    found.push({
      name: entry.file,
      tNs: entry.tNs,
      sweep,
      marks: identified.spotOfMark.map((spot) => (spot < 0 ? null : asSeen(discs[spot]))),
    });
  }
  return {
    streams: {
      marks,
      targetSigmaM: description.target.sigmaM,
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

const asSeen = ({ u, v, sigmaPx }: SeenMark): SeenMark => ({ u, v, sigmaPx });

/** Mean charge of one photon event at a gain setting: log-linear between the points of the rig's curve. */
function meanChargeAt(rig: RigDescription, gain: number): number {
  const curve = rig.cameras.uv.gainCurve;
  const above = curve.findIndex((p) => p.gain >= gain);
  if (above <= 0) return above === 0 ? curve[0].meanChargeDn : curve[curve.length - 1].meanChargeDn;
  const [a, b] = [curve[above - 1], curve[above]];
  return a.meanChargeDn * (b.meanChargeDn / a.meanChargeDn) ** ((gain - a.gain) / (b.gain - a.gain));
}
