import type { ColourFrame } from '../camera/GreyFrame.ts';
import { decodeColourImage } from './decodeImage.ts';
import type { FrameEntry } from './FrameIndex.ts';
import type { ColourStream } from './fields.ts';
import { insideFolder } from './insideFolder.ts';

/**
 * Reads one frame of the colour stream.
 * @throws InputError where it is missing, damaged, or of another format, size or depth than the stream says
 */
export async function readColourFrame(folder: string, stream: ColourStream, entry: FrameEntry): Promise<ColourFrame> {
  const indexFile = insideFolder(folder, stream.index, { file: folder, field: 'streams.colour.index' });
  const file = insideFolder(folder, entry.file, { file: indexFile, row: entry.frame + 2, field: 'file' });
  return decodeColourImage(file, stream);
}
