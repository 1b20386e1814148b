import { expect, test } from 'vitest';
import { frameTimeNs, uvCsv, writeSmallFlight } from '../recording/smallRecording.testdata.ts';
import { type StreamsAnswer, streamsAnswer } from './api/flights.ts';
import { startedDesk } from './smallDesk.testdata.ts';

const FLIGHT = `/api/flights/${encodeURIComponent('Tern Reach, west side')}`;

async function streams(flight: string, query: string): Promise<StreamsAnswer> {
  const { origin } = await startedDesk({ flightPaths: [flight] });
  return streamsAnswer.parse(await (await fetch(`${origin}${FLIGHT}/streams?${query}`)).json());
}

test('streams are told over the whole flight as they were recorded, every frame in one bin', async () => {
  const told = await streams(await writeSmallFlight(), 'bins=5');
  expect([told.wholeFromNs, told.wholeToNs, told.bins]).toEqual([frameTimeNs(0), frameTimeNs(5), 5]);
  expect(told.uv.frames.reduce((sum, n) => sum + n, 0)).toBe(6);
  expect(told.colour.frames.reduce((sum, n) => sum + n, 0)).toBe(1);
  expect(told.health.uv).toMatchObject({ frames: 6, nominalHz: 50, framesMissing: 0, gaps: [] });
  expect(told.health.uv.measuredHz).toBeCloseTo(50, 9);
  expect([told.uv.exposureMs.mean[0], told.uv.gain.mean[0]]).toEqual([18, 1.5]);
  // No photon event was ever found in it, and it is a folder: nothing was left out by a recorder.
  expect([told.uv.eventsPerS, told.fates]).toEqual([null, null]);
});

test('a frame that is missing is a gap where it is missing, and one bin a frame shows single frames', async () => {
  const flight = await writeSmallFlight({
    'uv.csv': uvCsv()
      .split('\n')
      .filter((row) => !row.startsWith(`${frameTimeNs(3)},`))
      .join('\n'),
  });
  const told = await streams(flight, 'bins=5');
  expect(told.health.uv.gaps).toMatchObject([
    { afterFrame: 2, fromNs: frameTimeNs(2), toNs: frameTimeNs(4), framesMissing: 1 },
  ]);
  expect(told.singleFrames).toBe(true);
  // The interval belongs to the frame that ends it.
  expect(Math.max(...told.uv.intervalMs.most.filter((ms) => ms !== null))).toBeCloseTo(40, 9);
});

test('a stretch is asked for by its times, and begins and ends inside the flight', async () => {
  const told = await streams(await writeSmallFlight(), `from=${frameTimeNs(1)}&to=${frameTimeNs(90)}&bins=4`);
  expect([told.fromNs, told.toNs]).toEqual([frameTimeNs(1), frameTimeNs(5)]);
  expect(told.uv.frames.reduce((sum, n) => sum + n, 0)).toBe(5);
});
