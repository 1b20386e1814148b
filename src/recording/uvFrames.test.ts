import { mkdir, truncate, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import sharp from 'sharp';
import { expect, test } from 'vitest';
import { readColourFrame } from './colourFrames.ts';
import type { FrameEntry } from './FrameIndex.ts';
import type { ColourStream, UvStream } from './fields.ts';
import { HEIGHT_PX, messageOf, pixelOf, temporaryFolder, WIDTH_PX } from './smallRecording.testdata.ts';
import { openUvFrames } from './uvFrames.ts';

const PIXELS = WIDTH_PX * HEIGHT_PX;

const streamOf = (encoding: UvStream['encoding'], bitDepth: 8 | 16): UvStream => ({
  index: 'uv.csv',
  encoding,
  widthPx: WIDTH_PX,
  heightPx: HEIGHT_PX,
  bitDepth,
  frameRateHz: 50,
});

const entryOf = (frame: number, file: string, offsetBytes = 0): FrameEntry => ({
  frame,
  tNs: frame * 20_000_000,
  file,
  offsetBytes,
  exposureNs: 1_000_000,
  gain: 1,
});

/** Frame i; 16 bit frames use both bytes, with the high one not a copy of the low one. */
const frameData = (i: number, bitDepth: 8 | 16): Uint8Array | Uint16Array =>
  bitDepth === 8
    ? Uint8Array.from({ length: PIXELS }, (_, k) => pixelOf(i, k))
    : Uint16Array.from({ length: PIXELS }, (_, k) => pixelOf(i, k) * 256 + pixelOf(i + 3, k + 11));

const bytesOf = (data: Uint8Array | Uint16Array) => Buffer.from(data.buffer, data.byteOffset, data.byteLength);

const sharpOf = (data: Uint8Array | Uint16Array) => {
  const image = sharp(data, { raw: { width: WIDTH_PX, height: HEIGHT_PX, channels: 1 } });
  return image.toColourspace(data instanceof Uint16Array ? 'grey16' : 'b-w');
};

test.each([
  [8, 'memory of their own', 0],
  [8, 'the memory given', PIXELS],
  [16, 'the memory given', PIXELS],
  [16, 'memory of their own where that given is too small', PIXELS - 1],
] as const)(
  'raw frames of %i bit come back value by value from several files, gaps and any order, in %s',
  async (depth, _where, given) => {
    const folder = await temporaryFolder();
    const frameBytes = (PIXELS * depth) / 8;
    const all = Array.from({ length: 7 }, (_, i) => frameData(i, depth));
    // File a: frames 0 1 2 without gaps; file b: a header of 10 bytes, 3, a gap of 6 bytes, 4 5; file c: 6.
    await writeFile(join(folder, 'a.raw'), Buffer.concat(all.slice(0, 3).map(bytesOf)));
    await writeFile(
      join(folder, 'b.raw'),
      Buffer.concat([Buffer.alloc(10, 9), bytesOf(all[3]), Buffer.alloc(6, 9), bytesOf(all[4]), bytesOf(all[5])]),
    );
    await writeFile(join(folder, 'c.raw'), bytesOf(all[6]));
    const index = [
      ...[0, 1, 2].map((i) => entryOf(i, 'a.raw', i * frameBytes)),
      entryOf(3, 'b.raw', 10),
      entryOf(4, 'b.raw', 16 + frameBytes),
      entryOf(5, 'b.raw', 16 + 2 * frameBytes),
      entryOf(6, 'c.raw'),
    ];
    const into = depth === 8 ? new Uint8Array(given) : new Uint16Array(given);
    const frames = await openUvFrames(folder, streamOf('raw', depth), index, into);
    for (const i of [0, 1, 2, 3, 4, 5, 6, 2, 6, 0, 5, 4, 4]) expect((await frames.read(i)).data).toEqual(all[i]);
    const borrowed = (await frames.borrow(3)).data;
    expect(borrowed).toEqual(all[3]);
    expect(borrowed === into).toBe(given === PIXELS);
    const out = depth === 8 ? new Uint8Array(PIXELS) : new Uint16Array(PIXELS);
    await frames.readInto(out, 5);
    expect(out).toEqual(all[5]);
    await expect(frames.read(7)).rejects.toThrow(RangeError);
    await frames.close();
  },
);

test('a frame that was read stays as it is while later ones are read', async () => {
  const folder = await temporaryFolder();
  const count = 50;
  const whole = Buffer.alloc(count * PIXELS);
  for (let i = 0; i < count; i++) whole.writeUInt32LE(i, i * PIXELS);
  await writeFile(join(folder, 'long.raw'), whole);
  const index = Array.from({ length: count }, (_, i) => entryOf(i, 'long.raw', i * PIXELS));
  const frames = await openUvFrames(folder, streamOf('raw', 8), index);
  const first = await frames.read(5);
  for (let i = 0; i < count; i++) {
    const { data } = await frames.borrow(i);
    if (Buffer.from(data.buffer, data.byteOffset, 4).readUInt32LE() !== i) throw new Error(`frame ${i} is another`);
  }
  expect([...first.data.subarray(0, 4)]).toEqual([5, 0, 0, 0]);
  await frames.close();
});

test('a raw file cut off after it was opened gives its whole frames and refuses the first that is not whole', async () => {
  const folder = await temporaryFolder();
  await writeFile(join(folder, 'a.raw'), Buffer.concat([0, 1, 2].map((i) => bytesOf(frameData(i, 8)))));
  const index = [0, 1, 2].map((i) => entryOf(i, 'a.raw', i * PIXELS));
  await truncate(join(folder, 'a.raw'), 2 * PIXELS + 100);
  const frames = await openUvFrames(folder, streamOf('raw', 8), index);
  expect((await frames.read(1)).data).toEqual(frameData(1, 8));
  expect(await messageOf(frames.read(2), folder)).toBe(
    'InputError: uv.csv, row 4, file: found a.raw ending at byte 868, expected a frame up to byte 1152. The file is cut off; copy it again, or leave its rows out of the index so that they count as lost.',
  );
  expect((await frames.read(0)).data).toEqual(frameData(0, 8));
  await frames.close();
});

test.each([
  ['png', 8],
  ['png', 16],
  ['tiff', 8],
  ['tiff', 16],
] as const)('%s frames of %i bit come back value by value', async (encoding, depth) => {
  const folder = await temporaryFolder();
  const compression = ['none', 'lzw', 'deflate', 'none', 'lzw', 'deflate', 'none'] as const;
  for (let i = 0; i < 7; i++) {
    const image = sharpOf(frameData(i, depth));
    await (encoding === 'png'
      ? image.png({ adaptiveFiltering: i % 2 === 0, progressive: i === 3 })
      : image.tiff({ compression: compression[i] })
    ).toFile(join(folder, `${i}.img`));
  }
  const frames = await openUvFrames(
    folder,
    streamOf(encoding, depth),
    Array.from({ length: 7 }, (_, i) => entryOf(i, `${i}.img`)),
  );
  for (const i of [0, 1, 2, 3, 4, 5, 6, 1]) expect((await frames.read(i)).data).toEqual(frameData(i, depth));
  await frames.close();
});

test.each<[fault: string, expected: UvStream, write: (file: string) => Promise<unknown>, message: string]>([
  [
    'another size',
    { ...streamOf('png', 8), widthPx: 32 },
    (file) => sharpOf(frameData(0, 8)).png().toFile(file),
    "InputError: 0.img, image size: found 24 x 16 px, expected 32 x 16 px. Correct the stream's description, or export the frames as it says.",
  ],
  [
    'another bit depth',
    streamOf('png', 8),
    (file) => sharpOf(frameData(0, 16)).png().toFile(file),
    "InputError: 0.img, bit depth: found 16 bit, expected 8 bit. Correct the stream's description, or export the frames as it says.",
  ],
  [
    'another encoding',
    streamOf('png', 8),
    (file) => sharpOf(frameData(0, 8)).tiff({ compression: 'none' }).toFile(file),
    "InputError: 0.img, encoding: found tiff, expected png. Correct the stream's description, or export the frames as it says.",
  ],
  [
    'fewer bits',
    streamOf('png', 8),
    (file) => sharpOf(frameData(0, 8)).png({ palette: true, colours: 16 }).toFile(file),
    "InputError: 0.img, bit depth: found 4 bit, expected 8 bit. Correct the stream's description, or export the frames as it says.",
  ],
  [
    'three channels',
    streamOf('png', 8),
    (file) =>
      sharp(Buffer.alloc(3 * PIXELS, 77), { raw: { width: WIDTH_PX, height: HEIGHT_PX, channels: 3 } })
        .png()
        .toFile(file),
    "InputError: 0.img, channels: found 3 (srgb), expected 1 (grey). Correct the stream's description, or export the frames as it says.",
  ],
])('an ultraviolet image of %s than the stream says is refused', async (_, expected, write, message) => {
  const folder = await temporaryFolder();
  await write(join(folder, '0.img'));
  const frames = await openUvFrames(folder, expected, [entryOf(0, '0.img')]);
  expect(await messageOf(frames.read(0), folder)).toBe(message);
});

test.each(['png', 'tiff'] as const)(
  'a %s image is refused wherever it is cut off, and so is a missing one',
  async (encoding) => {
    const folder = await temporaryFolder();
    const image = sharpOf(frameData(1, 8));
    const bytes = await (encoding === 'png' ? image.png() : image.tiff({ compression: 'none' })).toBuffer();
    const whole = bytes.length;
    for (const length of [0, 5, Math.floor(whole / 3), Math.floor(whole / 2), Math.floor(whole * 0.8)]) {
      await writeFile(join(folder, '0.img'), bytes.subarray(0, length));
      const frames = await openUvFrames(folder, streamOf(encoding, 8), [entryOf(0, '0.img')]);
      expect(await messageOf(frames.read(0), folder), `${length} of ${whole} bytes`).toMatch(
        /^InputError: 0\.img: found a broken image \(.+\), expected a whole image\. The file is cut off or damaged/,
      );
    }
    const frames = await openUvFrames(folder, streamOf(encoding, 8), [entryOf(0, 'none.img')]);
    expect(await messageOf(frames.read(0), folder)).toBe(
      'InputError: none.img: found no such file, expected an image of the stream. Copy the recording again.',
    );
  },
);

const colourStream: ColourStream = {
  index: 'colour.csv',
  encoding: 'png',
  widthPx: 20,
  heightPx: 16,
  bitDepth: 8,
  frameRateHz: 1,
};

test('a colour image comes back as R, G, B; a grey one with three equal values', async () => {
  const folder = await temporaryFolder();
  await mkdir(join(folder, 'colour'));
  const rgb = Uint8Array.from({ length: 3 * 20 * 16 }, (_, k) => pixelOf(2, k));
  await sharp(rgb, { raw: { width: 20, height: 16, channels: 3 } })
    .png()
    .toFile(join(folder, 'colour/0.png'));
  const grey = Uint8Array.from({ length: 20 * 16 }, (_, k) => pixelOf(5, k));
  await sharp(grey, { raw: { width: 20, height: 16, channels: 1 } })
    .toColourspace('b-w')
    .png()
    .toFile(join(folder, 'colour/1.png'));
  expect((await readColourFrame(folder, colourStream, entryOf(0, 'colour/0.png'))).data).toEqual(rgb);
  const seen = (await readColourFrame(folder, colourStream, entryOf(1, 'colour/1.png'))).data;
  expect(seen).toEqual(Uint8Array.from({ length: 3 * 20 * 16 }, (_, k) => grey[Math.floor(k / 3)]));
});

test('a JPEG colour image comes back close to what was compressed, and is refused when cut off', async () => {
  const folder = await temporaryFolder();
  const rgb = Uint8Array.from({ length: 3 * 20 * 16 }, (_, k) => [200, 120, 40][k % 3]);
  const file = join(folder, '0.jpg');
  const jpeg = await sharp(rgb, { raw: { width: 20, height: 16, channels: 3 } })
    .jpeg({ quality: 95 })
    .toBuffer();
  await writeFile(file, jpeg);
  const stream: ColourStream = { ...colourStream, encoding: 'jpeg' };
  const { data } = await readColourFrame(folder, stream, entryOf(0, '0.jpg'));
  // A flat field costs only the rounding of the colour conversion.
  for (let k = 0; k < data.length; k++) expect(Math.abs(data[k] - rgb[k])).toBeLessThanOrEqual(3);
  await writeFile(file, jpeg.subarray(0, jpeg.length - 40));
  expect(await messageOf(readColourFrame(folder, stream, entryOf(0, '0.jpg')), folder)).toMatch(
    /^InputError: 0\.jpg: found a broken image \(.+\), expected a whole image/,
  );
});
