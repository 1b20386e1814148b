import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import type { PlanOptions } from './PlanOptions.ts';
import { type PlanOutcome, planFlight } from './planFlight.ts';

/** A span of 280 m with two wires, 14 m apart, and a rig that looks out to the right. */
export const FRAME = localFrameAt([-31.7, 44.3, 120]);
const at = (east: number, up: number, north = 0): readonly number[] => FRAME.llhFromEnu([east, north, up]);

const RIG = {
  format: 'corposant-rig',
  version: 1,
  id: 'tern-3',
  cameras: {
    uv: {
      widthPx: 640,
      heightPx: 512,
      bitDepth: 8,
      pixelPitchUm: 20,
      focalMm: 20,
      focalSigmaMm: 0.05,
      shutter: 'global',
      spotSigmaPx: 1.3,
      blurSigmaPx: 0.9,
      saturationLevel: 255,
      gainCurve: [
        { gain: 1, meanChargeDn: 10 },
        { gain: 2, meanChargeDn: 130 },
        { gain: 3, meanChargeDn: 4000 },
      ],
      apertureMm: 15,
      bandNm: [240, 280],
      eventsPerPhoton: 0.08,
    },
    colour: {
      widthPx: 1224,
      heightPx: 1024,
      bitDepth: 8,
      pixelPitchUm: 7,
      focalMm: 10.5,
      focalSigmaMm: 0.03,
      shutter: 'global',
    },
  },
  pair: { colourInUvM: [0.15, 0, 0.01], sigmaM: 0.003, rotationSigmaDeg: 0.5 },
  mounting: {
    uvInBodyM: [0.1, 0.1, 0.2],
    leverArmSigmaM: 0.01,
    yawDeg: 90,
    pitchDeg: 0,
    rollDeg: 0,
    boresightSigmaDeg: 0.015,
    timeOffsetSigmaMs: 0.3,
  },
};
const LINE = {
  format: 'corposant-line',
  version: 1,
  name: 'Skua line',
  owner: 'invented',
  voltageKv: 380,
  structures: [0, 280].map((east, i) => ({
    id: `S${i + 1}`,
    kind: 'suspension',
    positionLlh: at(east, 0),
    sigmaM: 0.1,
    heightM: 36,
  })),
  components: [],
  conductors: [-7, 7].map((north, i) => ({
    id: `wire-${i}`,
    kind: 'phase',
    fromStructureId: 'S1',
    toStructureId: 'S2',
    circuit: '1',
    phase: 'A',
    startLlh: at(0, 26, north),
    endLlh: at(280, 26, north),
    sagM: 5,
    sagSigmaM: 0.1,
    bundle: { count: 1, spacingM: 0, radiusM: 0.014 },
  })),
};

/** A plan for it in a folder that goes when the test ends. */
export async function planned(
  change: Partial<PlanOptions> = {},
): Promise<{ readonly outcome: PlanOutcome; readonly folder: string }> {
  const folder = await mkdtemp(join(tmpdir(), 'corposant-plan-'));
  onTestFinished(() => rm(folder, { recursive: true, force: true }));
  await writeFile(join(folder, 'rig.json'), JSON.stringify(RIG));
  await writeFile(join(folder, 'line.json'), JSON.stringify(LINE));
  const outcome = await planFlight({
    rigFile: join(folder, 'rig.json'),
    registrationFile: null,
    lineFile: join(folder, 'line.json'),
    standoffsM: [40, 25],
    speedsMps: [12],
    frameRateHz: 50,
    exposureS: 0.02,
    colourExposureS: 1e-3,
    gain: null,
    voltageKv: null,
    depthM: null,
    turnDegps: 5,
    positionSigmaM: 0.03,
    tiltSigmaDeg: 0.01,
    headingSigmaDeg: 0.03,
    mainsHz: 50,
    backgroundPerFrame: 5,
    pixelNoiseDn: 1.2,
    acknowledgeApproach: false,
    outFolder: join(folder, 'out'),
    ...change,
  });
  return { outcome, folder };
}
