import { fromArrayBuffer } from 'geotiff';
import { expect, test } from 'vitest';
import { floatTiff } from './floatTiff.ts';
import { npyFile } from './npyFile.ts';

const data = Float32Array.from({ length: 7 * 5 * 6 }, (_, i) => Math.sin(i) * 1234.5);

test('geotiff.js reads back every value of a float TIFF of six channels', async () => {
  const bytes = floatTiff(data, 7, 5, 6);
  const image = await (await fromArrayBuffer(bytes.buffer as ArrayBuffer)).getImage();
  expect([image.getWidth(), image.getHeight(), image.getSamplesPerPixel()]).toEqual([7, 5, 6]);
  const read = (await image.readRasters({ interleave: true })) as unknown as Float32Array;
  expect(Array.from(read)).toEqual(Array.from(data));
});

test('the header of an .npy file is aligned to 64 bytes and names shape and type', () => {
  const bytes = npyFile(data, [5, 7, 6]);
  const view = new DataView(bytes.buffer);
  const start = 10 + view.getUint16(8, true);
  expect(start % 64).toBe(0);
  expect(new TextDecoder().decode(bytes.subarray(10, start))).toMatch(
    /^{'descr': '<f4', 'fortran_order': False, 'shape': \(5, 7, 6\), } *\n$/,
  );
  expect(view.getFloat32(start + 4 * 11, true)).toBe(data[11]);
});
