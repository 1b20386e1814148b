import { crc32, deflateSync } from 'node:zlib';
import sharp from 'sharp';
import { expect, test } from 'vitest';
import { openGreyPng, unpackGreyPng } from './greyPng.ts';
import { pixelOf } from './smallRecording.testdata.ts';

const WIDTH_PX = 37;
const HEIGHT_PX = 23;

function chunk(type: string, content: Buffer): Buffer {
  const bytes = Buffer.alloc(12 + content.length);
  bytes.writeUInt32BE(content.length);
  bytes.write(type, 4, 'latin1');
  content.copy(bytes, 8);
  bytes.writeUInt32BE(crc32(bytes.subarray(4, 8 + content.length)), 8 + content.length);
  return bytes;
}

/** A grey PNG whose scan lines are filtered as told, its data spread over several chunks. */
function pngOf(filterOf: (row: number) => number, bitDepth: number, lines: (row: number, i: number) => number): Buffer {
  const rowBytes = Math.ceil((WIDTH_PX * bitDepth) / 8);
  const raw = Buffer.alloc(HEIGHT_PX * (rowBytes + 1));
  for (let row = 0; row < HEIGHT_PX; row++) {
    raw[row * (rowBytes + 1)] = filterOf(row);
    for (let i = 0; i < rowBytes; i++) raw[row * (rowBytes + 1) + 1 + i] = lines(row, i);
  }
  const head = Buffer.alloc(13);
  head.writeUInt32BE(WIDTH_PX);
  head.writeUInt32BE(HEIGHT_PX, 4);
  head[8] = bitDepth;
  const packed = deflateSync(raw);
  const third = Math.floor(packed.length / 3);
  const parts = [packed.subarray(0, third), packed.subarray(third, 2 * third), packed.subarray(2 * third)];
  return Buffer.concat([
    Buffer.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a),
    chunk('IHDR', head),
    chunk('tEXt', Buffer.from('Comment\0a chunk to skip')),
    ...parts.map((part) => chunk('IDAT', part)),
    chunk('IEND', Buffer.alloc(0)),
  ]);
}

// Any bytes are valid filtered lines, so the lines are simply noise; libpng (through sharp) says what pixels they mean.
test.each([
  ...[0, 1, 2, 3, 4].flatMap((filter) => [
    [`filter ${filter}`, () => filter, 8] as const,
    [`filter ${filter}`, () => filter, 16] as const,
  ]),
  ['all filters by turns', (row: number) => (row * 3) % 5, 8] as const,
  ['all filters by turns', (row: number) => (row * 3) % 5, 16] as const,
])('%s: libpng sees the same pixels', async (_, filterOf, bitDepth) => {
  const bytes = pngOf(filterOf, bitDepth, (row, i) => pixelOf(row, i * 7));
  const image = sharp(bytes);
  const seen =
    bitDepth === 8
      ? await image.toColourspace('b-w').raw().toBuffer()
      : await image.toColourspace('grey16').raw({ depth: 'ushort' }).toBuffer();
  const pixels = await unpackGreyPng(openGreyPng(bytes)!);
  expect(Buffer.from(pixels.buffer, pixels.byteOffset, pixels.byteLength).equals(seen)).toBe(true);
});

test('a wrong byte anywhere in the chunks of a PNG is noticed', async () => {
  const bytes = pngOf(() => 1, 8, pixelOf);
  const noticed = async (at: number) => {
    const damaged = Buffer.from(bytes);
    damaged[at] ^= 0x10;
    try {
      const png = openGreyPng(damaged);
      // Left to the general decoder: no longer a grey PNG by its own header.
      if (png === null) return true;
      await unpackGreyPng(png);
      return false;
    } catch {
      return true;
    }
  };
  for (let at = 0; at < bytes.length; at++) expect(await noticed(at), `byte ${at}`).toBe(true);
});

test('colour, interlaced, transparent and narrow PNGs are left to the general decoder', async () => {
  const colour = sharp(Buffer.alloc(300, 9), { raw: { width: 10, height: 10, channels: 3 } });
  expect(openGreyPng(await colour.png().toBuffer())).toBeNull();
  const grey = sharp(Buffer.alloc(100, 9), { raw: { width: 10, height: 10, channels: 1 } }).toColourspace('b-w');
  expect(openGreyPng(await grey.clone().png({ progressive: true }).toBuffer())).toBeNull();
  expect(openGreyPng(await grey.clone().jpeg().toBuffer())).toBeNull();
  expect(openGreyPng(pngOf(() => 0, 4, pixelOf))).toBeNull();
  expect(openGreyPng(Buffer.alloc(0))).toBeNull();
});
