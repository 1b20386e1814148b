import type { LocalFrame } from '../../earth/LocalFrame.ts';
import type { LineModel } from '../../line/LineModel.ts';
import type { LineFile } from '../../line/lineFile.ts';
import { lineFileOf, lineModelFromFile } from '../../line/lineModelFromFile.ts';
import { readJsonFile } from '../../recording/jsonFile.ts';

/** A line as its file says, and as a model in a frame. */
export interface ReadLine {
  readonly content: LineFile;
  readonly hash: string;
  modelIn(frame: LocalFrame): LineModel;
}

/** Reads line.json, a template, or GeoJSON. */
export async function readLineFile(file: string): Promise<ReadLine> {
  const { value, hash } = await readJsonFile(file);
  return { content: lineFileOf(value, file), hash, modelIn: (frame) => lineModelFromFile(value, file, frame) };
}
