import { closeSync, openSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { benchExposures } from './benchExposures.ts';
import { type Chunk, rawFileName } from './chunks.ts';
import type { Spots } from './Spots.ts';
import { addTally, emptyTally, type Tally } from './Tally.ts';
import { type UvSensor, uvSensor } from './uvSensor.ts';
import { type FlightExposure, flightExposures } from './uvSpots.ts';
import type { World } from './World.ts';

/** Renders the frames of one raw file; `advance` is called after each frame. Returns what the sources gave (flights only). */
export function renderUvChunk(
  world: World,
  folder: string,
  chunk: Chunk,
  advance: () => void,
  sensor: UvSensor = uvSensor(world),
): Tally {
  const { widthPx, heightPx, bitDepth } = world.rig.nominal.cameras.uv;
  const bytes = new Uint8Array((widthPx * heightPx * bitDepth) / 8);
  // Raw files are little-endian, and so is every machine that Node runs on.
  const frame = bitDepth === 16 ? new Uint16Array(bytes.buffer) : new Uint8ClampedArray(bytes.buffer);
  const tally = emptyTally(world.flight.sources.length, world.flight.passes.length);
  const file = openSync(join(folder, chunk.part, rawFileName(chunk.number)), 'w');
  try {
    if (chunk.part === 'bench') {
      const exposureOf = benchExposures(world);
      for (let k = chunk.from; k < chunk.to; k++) {
        const { spots, tS } = exposureOf(k);
        // A tenth of a second after an exposure the phosphor is dark again: no afterglow.
        sensor.readInto(frame, { spots, previous: null, tS, chanceKey: 1_000_000 + k });
        writeSync(file, bytes);
        advance();
      }
    } else {
      const exposureOf = flightExposures(world);
      let previous: Spots | null = chunk.from > 0 ? exposureOf(chunk.from - 1).spots : null;
      for (let k = chunk.from; k < chunk.to; k++) {
        const exposure = exposureOf(k);
        sensor.readInto(frame, { spots: exposure.spots, previous, tS: exposure.tS, chanceKey: 2_000_000 + k });
        writeSync(file, bytes);
        addTally(tally, tallyOf(world, k, exposure));
        previous = exposure.spots;
        advance();
      }
    }
  } finally {
    closeSync(file);
  }
  return tally;
}

/** Events count that fall on the sensor; a trail is many spots but one event. */
function tallyOf(world: World, frame: number, { spots, rangeM }: FlightExposure): Tally {
  const { sources, passes, uvTimes } = world.flight;
  const { widthPx, heightPx } = world.rig.nominal.cameras.uv;
  const tally = emptyTally(sources.length, passes.length);
  const stampS = uvTimes.tNs[frame]! * 1e-9;
  const found = passes.findIndex((p) => stampS >= p.fromS && stampS < p.toS);
  const pass = found < 0 ? passes.length : found;
  for (let i = 0; i < spots.count; i++) {
    const s = spots.source[i]!;
    const [x, y] = [spots.xPx[i]!, spots.yPx[i]!];
    if (s < 0 || x < -0.5 || y < -0.5 || x >= widthPx - 0.5 || y >= heightPx - 0.5) continue;
    const source = sources[s]!;
    if (source.kind === 'trap' && source.trap === 'cosmic ray') {
      tally.events[s]![pass] = 1;
      tally.framesInView[s]![pass] = 1;
    } else tally.events[s]![pass]! += 1;
  }
  sources.forEach((_, s) => {
    const range = rangeM[s]!;
    if (Number.isNaN(range)) return;
    tally.framesInView[s]![pass]! += 1;
    tally.nearestM[s] = range;
  });
  return tally;
}
