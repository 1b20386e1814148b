import { open } from 'node:fs/promises';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { InputError } from '../../input/InputError.ts';
import { parseWith } from '../../input/parseWith.ts';
import { lineAgainstTrack } from '../../line/lineAgainstTrack.ts';
import { epoch as epochSchema } from '../../recording/fields.ts';
import { readMappedTrajectory } from '../../recording/mapped/readMappedTrajectory.ts';
import { trajectoryCsv } from '../../recording/trajectoryCsv.ts';
import { readTrajectory } from '../../recording/trajectoryFile.ts';
import { partOf, publishPart } from '../../recording/writeFileAtomically.ts';
import type { Epoch } from '../../time/Epoch.ts';
import { utcFromStamp } from '../../time/utcFromStamp.ts';
import { buildTrack } from '../../trajectory/buildTrack.ts';
import { trackFindings } from '../../trajectory/trackFindings.ts';
import { readLineFile } from './readLineFile.ts';

export interface ConvertTrajectoryOptions {
  /** null: the file is a trajectory.csv of our own, which is only looked at. */
  readonly mappingFile: string | null;
  readonly epoch: Epoch;
  readonly outFile: string | null;
  /** A line to set it against. */
  readonly lineFile: string | null;
}

export interface ConvertedTrajectory {
  readonly rows: number;
  readonly fromUtc: string;
  readonly toUtc: string;
  readonly rateHz: number;
  readonly velocities: boolean;
  readonly standardDeviations: boolean;
  readonly fixes: readonly { readonly name: string; readonly rows: number }[];
  readonly heightsM: readonly [number, number];
  readonly notes: readonly string[];
  readonly findings: readonly {
    readonly weight: 'note' | 'warning' | 'fault';
    readonly name: string;
    readonly detail: string;
    readonly fromUtc?: string;
    readonly toUtc?: string;
  }[];
  readonly outFile: string | null;
}

/** Reads a trajectory by its mapping, says what is odd about it, and writes it as trajectory.csv. */
export async function convertTrajectory(file: string, options: ConvertTrajectoryOptions): Promise<ConvertedTrajectory> {
  const epoch = parseWith(epochSchema, options.epoch, 'command line');
  const table =
    options.mappingFile === null
      ? await readTrajectory(file)
      : (await readMappedTrajectory(file, options.mappingFile, epoch)).table;
  const frame = localFrameAt([table.lonDeg[0], table.latDeg[0], Math.round(table.heightM[0])]);
  const track = buildTrack(table, frame, { file });
  const utc = (tNs: number): string => utcFromStamp(epoch, tNs);
  const line = options.lineFile === null ? null : (await readLineFile(options.lineFile)).modelIn(frame);
  if (options.outFile !== null) await writePieces(options.outFile, trajectoryCsv(table));
  const counts = new Map<string, number>();
  for (const fix of table.fix ?? []) counts.set(fix, (counts.get(fix) ?? 0) + 1);
  const { tNs, heightM } = table;
  const extent = heightM.reduce(([a, b], h) => [Math.min(a, h), Math.max(b, h)], [Infinity, -Infinity]);
  return {
    rows: tNs.length,
    fromUtc: utc(tNs[0]),
    toUtc: utc(tNs[tNs.length - 1]),
    rateHz: 1e9 / track.periodNs,
    velocities: table.velocityNedMps !== null,
    standardDeviations: table.sigma !== null,
    fixes: [...counts].map(([name, rows]) => ({ name, rows })),
    heightsM: [extent[0], extent[1]],
    notes: table.notes ?? [],
    findings: [
      ...trackFindings(track)
        .filter((f) => f.name !== 'read with assumptions' || f.weight === 'fault')
        .map(({ weight, name, detail, fromNs, toNs }) => ({
          weight,
          name,
          detail,
          fromUtc: utc(fromNs),
          toUtc: utc(toNs),
        })),
      ...(line ? lineAgainstTrack(line, track) : []),
    ],
    outFile: options.outFile,
  };
}

async function writePieces(file: string, pieces: Iterable<string>): Promise<void> {
  const part = partOf(file);
  const handle = await open(part, 'w').catch((error: Error) => {
    throw new InputError({
      file,
      found: error.message,
      expected: 'a place that can be written to',
      todo: 'Check the folder and its permissions.',
    });
  });
  try {
    for (const piece of pieces) await handle.write(piece);
  } finally {
    await handle.close();
  }
  await publishPart(part, file);
}
