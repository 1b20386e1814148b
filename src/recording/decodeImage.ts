import { readFile } from 'node:fs/promises';
import sharp from 'sharp';
import type { ColourFrame, GreyFrame } from '../camera/GreyFrame.ts';
import { InputError } from '../input/InputError.ts';
import { openGreyPng, unpackGreyPng } from './greyPng.ts';
import { unreadable } from './unreadable.ts';

// One frame at a time in each thread of the pool; frames are decoded ahead by the readers, so operations inside one image gain nothing.
sharp.concurrency(1);
sharp.cache(false);

interface Expected {
  readonly encoding: string;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly bitDepth: number;
}

/**
 * Decodes one grey image file, 8 or 16 bit, value by value as stored (no colour management).
 * @throws InputError where it is missing, of another format, size or depth, not grey, or cut off
 */
export async function decodeGreyImage(file: string, expected: Expected): Promise<GreyFrame> {
  const bytes = await readImage(file);
  return refuseBroken(file, async () => {
    const png = openGreyPng(bytes);
    if (png !== null) {
      checkHeader({ ...png, encoding: 'png', channels: 1, space: 'grey' }, file, expected, [1]);
      return { widthPx: png.widthPx, heightPx: png.heightPx, data: await unpackGreyPng(png) };
    }
    checkHeader(await headerOf(bytes), file, expected, [1]);
    const image = sharp(bytes, { ignoreIcc: true, failOn: 'warning' });
    // Without naming the colour space on the way out, 16 bit grey comes back as 8 bit colour.
    const pixels =
      expected.bitDepth === 16
        ? await image.toColourspace('grey16').raw({ depth: 'ushort' }).toBuffer()
        : await image.toColourspace('b-w').raw().toBuffer();
    const { widthPx, heightPx } = expected;
    const count = widthPx * heightPx;
    if (pixels.byteLength !== (count * expected.bitDepth) / 8) {
      throw new Error(`decoding ${file} gave ${pixels.byteLength} bytes for ${count} pixels`);
    }
    if (expected.bitDepth === 8)
      return { widthPx, heightPx, data: new Uint8Array(pixels.buffer, pixels.byteOffset, count) };
    const data = new Uint16Array(count);
    new Uint8Array(data.buffer).set(pixels);
    return { widthPx, heightPx, data };
  });
}

/**
 * Decodes one colour image file (8 bit; a grey one gives equal R, G, B).
 * @throws InputError as `decodeGreyImage`
 */
export async function decodeColourImage(file: string, expected: Expected): Promise<ColourFrame> {
  return decodeColourBytes(await readImage(file), file, expected);
}

/** As `decodeColourImage`, for an image that is in memory; `file` names it in errors. */
export function decodeColourBytes(bytes: Buffer, file: string, expected: Expected): Promise<ColourFrame> {
  return refuseBroken(file, async () => {
    checkHeader(await headerOf(bytes), file, expected, [1, 3]);
    const image = sharp(bytes, { ignoreIcc: true, failOn: 'warning' });
    const pixels = await image.toColourspace('srgb').raw().toBuffer();
    const { widthPx, heightPx } = expected;
    if (pixels.byteLength !== 3 * widthPx * heightPx) {
      throw new Error(`decoding ${file} gave ${pixels.byteLength} bytes for ${widthPx * heightPx} pixels`);
    }
    return { widthPx, heightPx, data: new Uint8Array(pixels.buffer, pixels.byteOffset, pixels.byteLength) };
  });
}

async function readImage(file: string): Promise<Buffer> {
  try {
    return await readFile(file);
  } catch (error) {
    throw new InputError({
      file,
      found: unreadable(error),
      expected: 'an image of the stream',
      todo: 'Copy the recording again.',
    });
  }
}

/** The decoder's own words for a broken file become an InputError; our own mistakes stay what they are. */
async function refuseBroken<T>(file: string, decode: () => Promise<T>): Promise<T> {
  try {
    return await decode();
  } catch (error) {
    if (error instanceof InputError || (error as Error).message.startsWith('decoding ')) throw error;
    throw new InputError({
      file,
      found: `a broken image (${(error as Error).message.split('\n')[0].trim()})`,
      expected: 'a whole image',
      todo: 'The file is cut off or damaged; copy it again, or leave its row out of the index so that it counts as lost.',
    });
  }
}

interface Header extends Expected {
  readonly channels: number;
  readonly space: string;
}

async function headerOf(bytes: Buffer): Promise<Header> {
  const seen = await sharp(bytes).metadata();
  const storedBits = seen.bitsPerSample ?? (seen.depth === 'ushort' ? 16 : 8);
  return {
    encoding: seen.format,
    widthPx: seen.width,
    heightPx: seen.height,
    // Fewer bits a pixel are spread to 8 on decoding, which would pass for what the sensor gave.
    bitDepth: seen.depth === 'uchar' || seen.depth === 'ushort' ? storedBits : Number.NaN,
    channels: seen.channels,
    space: seen.isPalette ? 'palette' : seen.space,
  };
}

function checkHeader(seen: Header, file: string, expected: Expected, channels: readonly number[]): void {
  const refuse = (field: string, found: string, wanted: string): never => {
    throw new InputError({
      file,
      field,
      found,
      expected: wanted,
      todo: "Correct the stream's description, or export the frames as it says.",
    });
  };
  if (seen.encoding !== expected.encoding) refuse('encoding', seen.encoding, expected.encoding);
  if (seen.widthPx !== expected.widthPx || seen.heightPx !== expected.heightPx) {
    refuse('image size', `${seen.widthPx} x ${seen.heightPx} px`, `${expected.widthPx} x ${expected.heightPx} px`);
  }
  if (seen.bitDepth !== expected.bitDepth) refuse('bit depth', `${seen.bitDepth} bit`, `${expected.bitDepth} bit`);
  const wantsGrey = channels.length === 1;
  if (!channels.includes(seen.channels) || (wantsGrey && seen.space === 'palette')) {
    refuse('channels', `${seen.channels} (${seen.space})`, wantsGrey ? '1 (grey)' : '1 (grey) or 3 (RGB)');
  }
}
