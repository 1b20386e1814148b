import { writeFileSync } from 'node:fs';
import sharp from 'sharp';

/**
 * A PMTiles file of one picture of one colour that covers the world: header, directory, metadata, tile, nothing compressed.
 * Source: PMTiles specification, version 3 (from memory); the desk reads it with the library of the format.
 */
export async function writeOneTile(file: string, colour: { r: number; g: number; b: number }): Promise<void> {
  const tile = await sharp({ create: { width: 256, height: 256, channels: 3, background: colour } })
    .png()
    .toBuffer();
  const metadata = Buffer.from('{}');
  // One entry: tile 0, once, so many bytes, at the beginning of the tile data (an offset is written plus one).
  const directory = Buffer.from([1, 0, 1, ...varint(tile.length), 1]);
  const header = Buffer.alloc(127);
  header.write('PMTiles');
  header[7] = 3;
  const rootAt = header.length;
  const metadataAt = rootAt + directory.length;
  const tilesAt = metadataAt + metadata.length;
  [rootAt, directory.length, metadataAt, metadata.length, tilesAt, 0, tilesAt, tile.length, 1, 1, 1].forEach((n, i) => {
    header.writeBigUInt64LE(BigInt(n), 8 + 8 * i);
  });
  header.set([1, 1, 1, 2, 0, 0], 96); // clustered, no compression twice, PNG, zoom 0 to 0
  [-180e7, -85e7, 180e7, 85e7].forEach((degrees, i) => {
    header.writeInt32LE(degrees, 102 + 4 * i);
  });
  writeFileSync(file, Buffer.concat([header, directory, metadata, tile]));
}

function varint(value: number): number[] {
  return value < 128 ? [value] : [(value & 127) | 128, ...varint(value >> 7)];
}
