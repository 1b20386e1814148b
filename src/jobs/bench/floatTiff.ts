import { writeFloats } from './npyFile.ts';

/**
 * An uncompressed float32 TIFF of one strip, channels interleaved. Written here because the image library at hand turns
 * float input into 8 bit, and the geographic one adds coordinates that a table of pixels has not.
 * Source: Adobe, TIFF Revision 6.0, 1992; read back with an independent library in the tests.
 */
export function floatTiff(data: Float32Array, widthPx: number, heightPx: number, channels: number): Uint8Array {
  const SHORT = 3;
  const LONG = 4;
  const entries: [tag: number, type: number, values: number[]][] = [
    [256, LONG, [widthPx]],
    [257, LONG, [heightPx]],
    [258, SHORT, new Array<number>(channels).fill(32)],
    [259, SHORT, [1]], // no compression
    [262, SHORT, [1]], // grey, black is zero
    [273, LONG, [0]], // where the strip starts: set below
    [277, SHORT, [channels]],
    [278, LONG, [heightPx]],
    [279, LONG, [4 * data.length]],
    [284, SHORT, [1]], // interleaved
    ...(channels > 1 ? [[338, SHORT, new Array<number>(channels - 1).fill(0)] as [number, number, number[]]] : []),
    [339, SHORT, new Array<number>(channels).fill(3)], // IEEE floating point
  ];
  const sizeOf = ([, type, values]: (typeof entries)[number]): number => (type === SHORT ? 2 : 4) * values.length;
  const directory = 8;
  let spare = directory + 2 + 12 * entries.length + 4;
  const offsets = entries.map((entry) => {
    if (sizeOf(entry) <= 4) return 0;
    const at = spare;
    spare += sizeOf(entry) + (sizeOf(entry) % 4);
    return at;
  });
  const strip = Math.ceil(spare / 4) * 4;
  entries.find(([tag]) => tag === 273)![2][0] = strip;
  const bytes = new Uint8Array(strip + 4 * data.length);
  const view = new DataView(bytes.buffer);
  bytes.set([0x49, 0x49, 42, 0]);
  view.setUint32(4, directory, true);
  view.setUint16(directory, entries.length, true);
  entries.forEach(([tag, type, values], i) => {
    const at = directory + 2 + 12 * i;
    view.setUint16(at, tag, true);
    view.setUint16(at + 2, type, true);
    view.setUint32(at + 4, values.length, true);
    if (offsets[i] > 0) view.setUint32(at + 8, offsets[i], true);
    const place = offsets[i] > 0 ? offsets[i] : at + 8;
    values.forEach((value, k) => {
      if (type === SHORT) view.setUint16(place + 2 * k, value, true);
      else view.setUint32(place + 4 * k, value, true);
    });
  });
  writeFloats(bytes, strip, data);
  return bytes;
}
