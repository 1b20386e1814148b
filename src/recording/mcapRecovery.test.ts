import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { open } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { McapIndexedReader, McapStreamReader } from '@mcap/core';
import { FileHandleReadable } from '@mcap/nodejs';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import type { ByteSink } from './ByteSink.ts';
import { McapChunkWriter } from './mcapChunkWriter.ts';
import { recoverRecording } from './mcapRecovery.ts';
import { DECOMPRESS } from './mcapZstd.ts';

const folder = mkdtempSync(join(tmpdir(), 'recovery-'));
afterAll(() => rmSync(folder, { recursive: true }));

const MESSAGES_A_CHUNK = 7;
const CHUNKS = 12;
const SEED = 506;

/** A recording in memory, with the length of the file at which each message was acknowledged. */
let whole: Buffer;
const acknowledged: { readonly sequence: number; readonly atBytes: number }[] = [];

beforeAll(async () => {
  const random = randomFrom(SEED);
  let bytes = Buffer.alloc(0);
  const sink: ByteSink = {
    write: async (more) => {
      bytes = Buffer.concat([bytes, more]);
    },
    truncate: async () => undefined,
    sync: async () => undefined,
    close: async () => undefined,
  };
  const schemas = [{ id: 1, name: 'bytes', encoding: '', data: new Uint8Array() }];
  const channels = [0, 1].map((id) => ({
    id,
    schemaId: 1,
    topic: `/${id}`,
    messageEncoding: '',
    metadata: new Map<string, string>(),
  }));
  const writer = await McapChunkWriter.begin(sink, 'test', schemas, channels);
  await writer.addMetadata({ name: 'about', metadata: new Map([['what', 'a recording that is cut']]) });
  let sequence = 0;
  for (let chunk = 0; chunk < CHUNKS; chunk++) {
    const first = sequence;
    for (let i = 0; i < MESSAGES_A_CHUNK; i++, sequence++) {
      const logTime = BigInt(1000 * sequence);
      writer.add('records', {
        channelId: i % 2,
        sequence,
        logTime,
        publishTime: logTime,
        data: Uint8Array.from({ length: 50 + 13 * i }, () => 256 * random.uniform()),
      });
    }
    await writer.closeChunks();
    for (let n = first; n < sequence; n++) acknowledged.push({ sequence: n, atBytes: writer.acknowledgedBytes });
  }
  await writer.finish();
  whole = bytes;
});

async function sequencesOf(file: string): Promise<number[]> {
  const handle = await open(file, 'r');
  try {
    const reader = await McapIndexedReader.Initialize({
      readable: new FileHandleReadable(handle),
      decompressHandlers: DECOMPRESS,
    });
    const found: number[] = [];
    for await (const { sequence } of reader.readMessages({ validateCrcs: true })) found.push(sequence);
    expect(reader.statistics?.messageCount).toBe(BigInt(found.length));
    return found;
  } finally {
    await handle.close();
  }
}

const smallestCut = (): number => {
  // Behind magic and header; before, the file is not yet the beginning of a recording.
  const reader = new McapStreamReader();
  reader.append(whole.subarray(0, 200));
  reader.nextRecord();
  return 200 - reader.bytesRemaining();
};

function cuts(): number[] {
  const random = randomFrom(SEED + 1);
  const fiftieths = Array.from({ length: 50 }, (_, i) => Math.floor((i * whole.length) / 50));
  const atRandom = Array.from({ length: 100 }, () => Math.floor(random.uniform() * whole.length));
  // And at every end of a chunk, one byte before and one behind.
  const ends = acknowledged.flatMap(({ atBytes }) => [atBytes - 1, atBytes, atBytes + 1]);
  return [...new Set([...fiftieths, ...atRandom, ...ends])].filter((cut) => cut >= smallestCut()).sort((a, b) => a - b);
}

describe('a recording that was cut off', () => {
  test(`after any byte it gives back every acknowledged message, through the index of the reference reader, seed ${SEED}`, async () => {
    const file = join(folder, 'cut.mcap');
    for (const cut of cuts()) {
      writeFileSync(file, whole.subarray(0, cut));
      const recovery = await recoverRecording(file);
      const expected = acknowledged.filter(({ atBytes }) => atBytes <= cut).map(({ sequence }) => sequence);
      const found = await sequencesOf(file);
      // A chunk may be whole although its index, which was written with it, is not: then there is more than was acknowledged.
      expect(found.slice(0, expected.length), `cut at byte ${cut} of ${whole.length}`).toEqual(expected);
      expect(found.length - expected.length).toBeLessThanOrEqual(MESSAGES_A_CHUNK);
      expect(recovery).toMatchObject({ kind: 'recovered', messages: found.length });
    }
  });

  test('is closed by recovery for good, and one that was closed is left alone to the byte', async () => {
    const file = join(folder, 'again.mcap');
    writeFileSync(file, whole.subarray(0, Math.floor(0.6 * whole.length)));
    await recoverRecording(file);
    const after = readFileSync(file);
    expect(await recoverRecording(file)).toEqual({ kind: 'whole' });
    expect(readFileSync(file).equals(after)).toBe(true);
  });

  test('recovery that was itself cut off can be repeated', async () => {
    const file = join(folder, 'twice.mcap');
    writeFileSync(file, whole.subarray(0, Math.floor(0.6 * whole.length)));
    await recoverRecording(file);
    const expected = await sequencesOf(file);
    const after = readFileSync(file);
    for (const share of [0.999, 0.97, 0.95]) {
      writeFileSync(file, after.subarray(0, Math.floor(share * after.length)));
      await recoverRecording(file);
      const found = await sequencesOf(file);
      expect(found).toEqual(expected.slice(0, found.length));
      expect(expected.length - found.length).toBeLessThanOrEqual(MESSAGES_A_CHUNK);
    }
  });

  test('behind a damaged byte nothing is thrown away: it is put beside', async () => {
    const file = join(folder, 'damaged.mcap');
    const damaged = Buffer.from(whole.subarray(0, whole.length - 20));
    const at = acknowledged[5 * MESSAGES_A_CHUNK].atBytes - 200;
    damaged[at] ^= 0xff;
    writeFileSync(file, damaged);
    const recovery = await recoverRecording(file);
    expect(recovery).toMatchObject({ kind: 'recovered', messages: 5 * MESSAGES_A_CHUNK });
    expect(await sequencesOf(file)).toEqual(
      acknowledged.slice(0, 5 * MESSAGES_A_CHUNK).map(({ sequence }) => sequence),
    );
    const beside = readFileSync(`${file}.cut-off`);
    expect(damaged.subarray(damaged.length - beside.length).equals(beside)).toBe(true);
    expect(beside.length).toBeGreaterThan(damaged.length / 2);
  });

  test('what never was a recording is refused in words', async () => {
    const file = join(folder, 'none.mcap');
    writeFileSync(file, 'a letter to the editor, and quite a long one');
    await expect(recoverRecording(file)).rejects.toThrow(/none\.mcap: found no MCAP header, expected a recording/);
    expect(readFileSync(file, 'utf8')).toContain('a letter');
  });
});
