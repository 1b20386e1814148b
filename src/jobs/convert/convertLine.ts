import { localFrameAt } from '../../earth/LocalFrame.ts';
import type { LineFile } from '../../line/lineFile.ts';
import type { LeftOut } from '../../line/lineFileFromTables.ts';
import { lineModelFromFile } from '../../line/lineModelFromFile.ts';
import { writeFileAtomically } from '../../recording/writeFileAtomically.ts';
import { readLineFile } from './readLineFile.ts';
import { readLineTables } from './readLineTables.ts';
import { type CloudOptions, type CloudRefinement, refineFromCloud } from './refineFromCloud.ts';

export interface ConvertLineOptions {
  /** null: the source is line.json, a template or GeoJSON. */
  readonly mappingFile: string | null;
  readonly cloud: CloudOptions | null;
  readonly outFile: string | null;
}

export interface ConvertedLine {
  readonly name: string;
  readonly structures: number;
  readonly components: number;
  readonly conductors: number;
  readonly leftOut: readonly LeftOut[];
  readonly cloud: Omit<CloudRefinement, 'line'> | null;
  readonly outFile: string | null;
}

/** Reads a line from any of its forms, refines it from a point cloud where there is one, checks it as inspect would, and writes line.json. */
export async function convertLine(source: string, options: ConvertLineOptions): Promise<ConvertedLine> {
  const read: { line: LineFile; leftOut: readonly LeftOut[] } =
    options.mappingFile === null
      ? { line: (await readLineFile(source)).content, leftOut: [] }
      : await readLineTables(source, options.mappingFile);
  const refined = options.cloud ? await refineFromCloud(read.line, options.cloud) : null;
  const line = refined?.line ?? read.line;
  // What inspect would refuse is refused here, before anything is written.
  lineModelFromFile(line, options.outFile ?? source, localFrameAt(line.structures[0].positionLlh));
  if (options.outFile !== null) await writeFileAtomically(options.outFile, `${JSON.stringify(line, null, 1)}\n`);
  const { line: _, ...cloud } = refined ?? { line: null };
  return {
    name: line.name,
    structures: line.structures.length,
    components: line.components.length,
    conductors: line.conductors.length,
    leftOut: read.leftOut,
    cloud: refined ? (cloud as Omit<CloudRefinement, 'line'>) : null,
    outFile: options.outFile,
  };
}
