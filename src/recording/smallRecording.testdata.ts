import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';

/** A folder of its own that goes when the test ends. */
export async function temporaryFolder(): Promise<string> {
  const folder = await mkdtemp(join(tmpdir(), 'corposant-'));
  onTestFinished(() => rm(folder, { recursive: true, force: true }));
  return folder;
}

export const WIDTH_PX = 24;
export const HEIGHT_PX = 16;
export const FRAMES = 6;
const PERIOD_NS = 20_000_000;

/** Value of pixel k of frame i, everywhere different enough that a frame or a byte out of place shows. */
export const pixelOf = (i: number, k: number): number => (i * 37 + k * 5 + (k >> 4)) % 251;

export const frameTimeNs = (i: number): number => 1_000_000_000 + i * PERIOD_NS;

// biome-ignore lint/suspicious/noExplicitAny: tests break these descriptions on purpose
export type Loose = any;

export const flightJson = (): Loose => ({
  format: 'corposant-flight',
  version: 1,
  name: 'Tern Reach, west side',
  rigId: 'heron-1',
  epoch: { utc: '2026-05-12T06:30:00Z', scale: 'UTC' },
  streams: {
    uv: { index: 'uv.csv', encoding: 'raw', widthPx: WIDTH_PX, heightPx: HEIGHT_PX, bitDepth: 8, frameRateHz: 50 },
    colour: { index: 'colour.csv', encoding: 'png', widthPx: 20, heightPx: 16, bitDepth: 8, frameRateHz: 1 },
  },
  trajectory: { file: 'trajectory.csv', datum: 'EPSG:4979', heightKind: 'ellipsoidal' },
  conditions: { temperatureC: 11, pressureHPa: 1004, relativeHumidityPct: 70, mainsHz: 50, weather: 'dry' },
});

export const rigJson = (): Loose => ({
  format: 'corposant-rig',
  version: 1,
  id: 'heron-1',
  cameras: {
    uv: {
      widthPx: WIDTH_PX,
      heightPx: HEIGHT_PX,
      bitDepth: 8,
      pixelPitchUm: 11,
      focalMm: 55,
      focalSigmaMm: 0.4,
      shutter: 'global',
      spotSigmaPx: 1.4,
      blurSigmaPx: 1.1,
      saturationLevel: 255,
      gainCurve: [
        { gain: 1, meanChargeDn: 60 },
        { gain: 2, meanChargeDn: 150 },
      ],
      apertureMm: 32,
      bandNm: [240, 280],
      eventsPerPhoton: 0.08,
    },
    colour: {
      widthPx: 20,
      heightPx: 16,
      bitDepth: 8,
      pixelPitchUm: 3.45,
      focalMm: 35,
      focalSigmaMm: 0.2,
      shutter: 'global',
    },
  },
  pair: { colourInUvM: [0.15, 0.01, -0.02], sigmaM: 0.004, rotationSigmaDeg: 1 },
  mounting: {
    uvInBodyM: [0.3, 0.12, 0.22],
    leverArmSigmaM: 0.01,
    yawDeg: 90,
    pitchDeg: -3,
    rollDeg: 0.5,
    boresightSigmaDeg: 0.3,
    timeOffsetSigmaMs: 2,
  },
});

export const uvCsv = (): string =>
  [
    't_ns,file,offset_bytes,exposure_ns,gain',
    ...Array.from({ length: FRAMES }, (_, i) => `${frameTimeNs(i)},uv.raw,${i * WIDTH_PX * HEIGHT_PX},18000000,1.5`),
    '',
  ].join('\n');

export const colourCsv = (): string => `t_ns,file,exposure_ns\n${frameTimeNs(2)},colour/000.png,2000000\n`;

/** 3 s at 20 Hz past both turns of a short loop: north, then east, at 5 m/s; the nose follows the course. */
export const trajectoryRows = (): string[] =>
  Array.from({ length: 400 }, (_, i) => {
    const s = i / 20;
    const northM = Math.min(s, 10) * 5;
    const eastM = Math.max(0, s - 10) * 5;
    const lat = 57.2 + northM / 111_200;
    const lon = -3.9 + eastM / (111_200 * Math.cos((57.2 * Math.PI) / 180));
    return [
      Math.round(s * 1e9),
      lat.toFixed(9),
      lon.toFixed(9),
      (212.5 + Math.sin(s)).toFixed(3),
      (2.5 * Math.sin(3 * s)).toFixed(4),
      (-4 + Math.cos(2 * s)).toFixed(4),
      (s < 10 ? 1.5 : 91.25).toFixed(4),
    ].join(',');
  });

export const trajectoryCsv = (rows = trajectoryRows()): string =>
  ['t_ns,lat_deg,lon_deg,height_m,roll_deg,pitch_deg,heading_deg', ...rows, ''].join('\n');

export const uvBytes = (): Uint8Array =>
  Uint8Array.from({ length: FRAMES * WIDTH_PX * HEIGHT_PX }, (_, k) =>
    pixelOf(Math.floor(k / (WIDTH_PX * HEIGHT_PX)), k % (WIDTH_PX * HEIGHT_PX)),
  );

/** Writes a whole small flight; whatever `instead` names is written instead of the sound file, null leaves it out. */
export async function writeSmallFlight(instead: Record<string, string | Uint8Array | null> = {}): Promise<string> {
  const folder = await temporaryFolder();
  await mkdir(join(folder, 'colour'));
  const files: Record<string, string | Uint8Array | null> = {
    'flight.json': JSON.stringify(flightJson()),
    'uv.csv': uvCsv(),
    'colour.csv': colourCsv(),
    'trajectory.csv': trajectoryCsv(),
    'uv.raw': uvBytes(),
    'colour/000.png': Uint8Array.of(0),
    ...instead,
  };
  for (const [name, content] of Object.entries(files))
    if (content !== null) await writeFile(join(folder, name), content);
  return folder;
}

/** The message of the error that a promise ends in, with the folder cut off the front of paths. */
export async function messageOf(failing: Promise<unknown>, folder: string): Promise<string> {
  try {
    await failing;
  } catch (error) {
    return `${(error as Error).name}: ${(error as Error).message}`.replaceAll(`${folder}/`, '');
  }
  return 'no error';
}
