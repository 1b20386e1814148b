import { rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { checkRigFits } from './checkRigFits.ts';
import { openBench } from './openBench.ts';
import { openFlight } from './openFlight.ts';
import { readRig } from './readRig.ts';
import {
  flightJson,
  type Loose,
  messageOf,
  rigJson,
  temporaryFolder,
  writeSmallFlight,
} from './smallRecording.testdata.ts';

const benchJson = (): Loose => {
  const { name, rigId, epoch, streams } = flightJson();
  return {
    format: 'corposant-bench',
    version: 1,
    name,
    rigId,
    epoch,
    streams,
    target: {
      marks: [
        { id: 'A', lampM: [0, 0.1, 0], discM: [0.01, -0.06, 0], discDiameterM: 0.12 },
        { id: 'B', lampM: [0.4, 0.1, 0], discM: [0.41, -0.06, 0], discDiameterM: 0.12 },
      ],
      sigmaM: 0.0005,
    },
    sweeps: [{ name: 'near', fromNs: 1_000_000_000, toNs: 1_050_000_000, rangeM: 15, rangeSigmaM: 0.05 }],
  };
};

async function writeSmallBench(change: (bench: Loose) => void = () => undefined): Promise<string> {
  const folder = await writeSmallFlight({ 'trajectory.csv': null });
  await rename(join(folder, 'flight.json'), join(folder, 'bench.json'));
  const bench = benchJson();
  change(bench);
  await writeFile(join(folder, 'bench.json'), JSON.stringify(bench));
  return folder;
}

async function writeRig(change: (rig: Loose) => void = () => undefined): Promise<string> {
  const folder = await temporaryFolder();
  const rig = rigJson();
  change(rig);
  await writeFile(join(folder, 'rig.json'), JSON.stringify(rig));
  return folder;
}

test('a sound bench run opens without a trajectory', async () => {
  const bench = await openBench(await writeSmallBench());
  expect(bench.description.target.marks.map((mark) => mark.id)).toEqual(['A', 'B']);
  expect(bench.uvIndex).toHaveLength(6);
  expect(bench.contentHash).toMatch(/^[0-9a-f]{64}$/);
});

test.each<[string, (bench: Loose) => void, string]>([
  [
    'two marks of one name',
    (bench) => {
      bench.target.marks[1].id = 'A';
    },
    'InputError: bench.json, target.marks.1.id: found A, as mark 0 is called already, expected a name of its own for each mark. Rename one of them.',
  ],
  [
    'a sweep in microseconds',
    (bench) => {
      bench.sweeps[0].fromNs = 1_000_000;
      bench.sweeps[0].toNs = 1_050_000;
    },
    'InputError: bench.json, sweeps.0: found near from 1000000 to 1050000, 0 uv frames, expected an interval with frames in it; they run from 1000000000 to 1100000000. Give the times in nanoseconds since the epoch of the run.',
  ],
  [
    'a mark in two dimensions',
    (bench) => {
      bench.target.marks[0].lampM = [0, 0.1];
    },
    'InputError: bench.json, target.marks.0.lampM: found [0,0.1], expected Too small: expected array to have >=3 items. Correct the field; docs/formats.md describes the file.',
  ],
])('a bench run is refused for %s', async (_, change, message) => {
  const folder = await writeSmallBench(change);
  expect(await messageOf(openBench(folder), folder)).toBe(message);
});

test('a rig file gives its description, and another hash for every other content', async () => {
  const { rig, hash } = await readRig(join(await writeRig(), 'rig.json'));
  expect(rig.cameras.uv.gainCurve[1].meanChargeDn).toBe(150);
  const other = await readRig(
    join(
      await writeRig((r) => {
        r.pair.sigmaM = 0.005;
      }),
      'rig.json',
    ),
  );
  expect(other.hash).not.toBe(hash);
});

test.each<[string, (rig: Loose) => void, string]>([
  [
    'a gain curve that turns back',
    (rig) => rig.cameras.uv.gainCurve.push({ gain: 1.5, meanChargeDn: 90 }),
    "InputError: rig.json, cameras.uv.gainCurve.2.gain: found 1.5 after 2, expected gain settings strictly rising. Correct the field from the camera's data sheet.",
  ],
  [
    'a band from long to short',
    (rig) => rig.cameras.uv.bandNm.reverse(),
    "InputError: rig.json, cameras.uv.bandNm: found 280 to 240, expected [from, to] with from below to. Correct the field from the camera's data sheet.",
  ],
  [
    'a sensor that saturates above its depth',
    (rig) => {
      rig.cameras.uv.saturationLevel = 4095;
    },
    "InputError: rig.json, cameras.uv.saturationLevel: found 4095, expected at most 255 at 8 bit. Correct the field from the camera's data sheet.",
  ],
])('a rig is refused for %s', async (_, change, message) => {
  const folder = await writeRig(change);
  expect(await messageOf(readRig(join(folder, 'rig.json')), folder)).toBe(message);
});

test.each<[string, (rig: Loose) => void, string]>([
  [
    'the name of another rig',
    (rig) => {
      rig.id = 'heron-2';
    },
    'flight.json, rigId: found heron-1, expected heron-2, the rig given. Use the rig file of the cameras that made this recording.',
  ],
  [
    'another image size',
    (rig) => {
      rig.cameras.colour.heightPx = 18;
    },
    'flight.json, streams.colour.heightPx: found 16, expected 18, as camera colour of rig heron-1. Use the rig file of the cameras that made this recording.',
  ],
  [
    'another bit depth',
    (rig) => {
      rig.cameras.uv.bitDepth = 16;
    },
    'flight.json, streams.uv.bitDepth: found 8, expected 16, as camera uv of rig heron-1. Use the rig file of the cameras that made this recording.',
  ],
])('a flight does not go with a rig of %s', async (_, change, message) => {
  const { description } = await openFlight(await writeSmallFlight());
  const own = await readRig(join(await writeRig(), 'rig.json'));
  expect(() => checkRigFits(own.rig, description)).not.toThrow();
  const other = await readRig(join(await writeRig(change), 'rig.json'));
  expect(() => checkRigFits(other.rig, description)).toThrow(message);
});
