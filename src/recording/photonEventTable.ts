import { rm } from 'node:fs/promises';
import { type AsyncBuffer, asyncBufferFromFile, type FileMetaData, parquetMetadataAsync, parquetRead } from 'hyparquet';
import { fileWriter, ParquetWriter } from 'hyparquet-writer';
import { InputError } from '../input/InputError.ts';
import { unreadable } from './unreadable.ts';
import { partOf, publishPart } from './writeFileAtomically.ts';

/** Photon events column by column; all columns have `count` valid rows. Columns of the Parquet table: docs/formats.md. */
export interface PhotonEventColumns {
  readonly count: number;
  readonly frame: Int32Array;
  readonly tNs: Float64Array;
  readonly xPx: Float64Array;
  readonly yPx: Float64Array;
  readonly charge: Float32Array;
  readonly sigmaPx: Float32Array;
  readonly flags: Uint8Array;
}

/** Rows that are compressed and written together, and read back together. */
const GROUP_ROWS = 65_536;

const COLUMNS = [
  { name: 't_ns', type: 'INT64' },
  { name: 'frame', type: 'INT32' },
  { name: 'x_px', type: 'DOUBLE' },
  { name: 'y_px', type: 'DOUBLE' },
  { name: 'charge', type: 'FLOAT' },
  { name: 'sigma_px', type: 'FLOAT' },
  { name: 'flags', type: 'INT32' },
] as const;

function allocate(count: number): PhotonEventColumns {
  return {
    count,
    frame: new Int32Array(count),
    tNs: new Float64Array(count),
    xPx: new Float64Array(count),
    yPx: new Float64Array(count),
    charge: new Float32Array(count),
    sigmaPx: new Float32Array(count),
    flags: new Uint8Array(count),
  };
}

function copyRows(out: PhotonEventColumns, at: number, from: PhotonEventColumns, start: number, end: number): void {
  for (const key of ['frame', 'tNs', 'xPx', 'yPx', 'charge', 'sigmaPx', 'flags'] as const) {
    out[key].set(from[key].subarray(start, end), at);
  }
}

/** A table that grows as the flight is read, and takes its name only when it is whole. */
export interface PhotonEventWriter {
  append(events: PhotonEventColumns): void;
  /** Writes what is left, flushes to the disk and publishes the file under its name. */
  finish(): Promise<void>;
  /** Leaves nothing behind. */
  discard(): Promise<void>;
}

/**
 * Writes photon events as Parquet, a row group at a time. The bytes depend on the events alone, not on how they were
 * portioned out to `append`.
 */
export function openPhotonEventWriter(file: string): PhotonEventWriter {
  const part = partOf(file);
  const schema = [
    { name: 'root', num_children: COLUMNS.length },
    ...COLUMNS.map(({ name, type }) => ({ name, type, repetition_type: 'REQUIRED' as const })),
  ];
  const parquet = new ParquetWriter({ writer: fileWriter(part), schema, createdBy: 'corposant' });
  const group = allocate(GROUP_ROWS);
  let rows = 0;
  const writeGroup = () => {
    if (rows === 0) return;
    const data = [
      BigInt64Array.from(group.tNs.subarray(0, rows), BigInt),
      group.frame.slice(0, rows),
      group.xPx.slice(0, rows),
      group.yPx.slice(0, rows),
      group.charge.slice(0, rows),
      group.sigmaPx.slice(0, rows),
      Int32Array.from(group.flags.subarray(0, rows)),
    ];
    parquet.write({ columnData: COLUMNS.map(({ name }, i) => ({ name, data: data[i] })), rowGroupSize: GROUP_ROWS });
    rows = 0;
  };
  return {
    append(events) {
      for (let start = 0; start < events.count; ) {
        const take = Math.min(GROUP_ROWS - rows, events.count - start);
        copyRows(group, rows, events, start, start + take);
        rows += take;
        start += take;
        if (rows === GROUP_ROWS) writeGroup();
      }
    },
    async finish() {
      writeGroup();
      parquet.finish();
      await publishPart(part, file);
    },
    discard: () => rm(part, { force: true }),
  };
}

/** Writes a whole table at once, in the same bytes as `openPhotonEventWriter`. */
export async function writePhotonEvents(file: string, events: PhotonEventColumns): Promise<void> {
  const writer = openPhotonEventWriter(file);
  try {
    writer.append(events);
    await writer.finish();
  } catch (error) {
    await writer.discard();
    throw error;
  }
}

/**
 * Photon events of a table, a row group at a time.
 * @throws InputError where the file is missing, cut off, or not such a table
 */
export async function* photonEventGroups(file: string): AsyncGenerator<PhotonEventColumns> {
  const { buffer, metadata } = await openTable(file);
  let rowStart = 0;
  for (const group of metadata.row_groups) {
    const count = Number(group.num_rows);
    yield await readRows(file, buffer, metadata, rowStart, count);
    rowStart += count;
  }
}

/** All photon events of a table: 42 bytes an event. @throws InputError as `photonEventGroups` */
export async function readPhotonEvents(file: string): Promise<PhotonEventColumns> {
  const { metadata } = await openTable(file);
  const all = allocate(Number(metadata.num_rows));
  let at = 0;
  for await (const group of photonEventGroups(file)) {
    copyRows(all, at, group, 0, group.count);
    at += group.count;
  }
  return all;
}

async function openTable(file: string): Promise<{ buffer: AsyncBuffer; metadata: FileMetaData }> {
  let buffer: AsyncBuffer;
  try {
    buffer = await asyncBufferFromFile(file);
  } catch (error) {
    throw broken(file, unreadable(error));
  }
  let metadata: FileMetaData;
  try {
    metadata = await parquetMetadataAsync(buffer);
  } catch (error) {
    throw broken(file, `no readable Parquet footer (${(error as Error).message})`);
  }
  for (const { name, type } of COLUMNS) {
    const column = metadata.schema.find((element) => element.name === name);
    if (column?.type === type) continue;
    throw new InputError({
      file,
      field: name,
      found: column === undefined ? 'no such column' : `a column of type ${column.type}`,
      expected: `a column of type ${type}`,
      todo: 'Write the table with the columns of docs/formats.md.',
    });
  }
  return { buffer, metadata };
}

async function readRows(
  file: string,
  buffer: AsyncBuffer,
  metadata: FileMetaData,
  rowStart: number,
  count: number,
): Promise<PhotonEventColumns> {
  const out = allocate(count);
  const into: Record<string, Int32Array | Float64Array | Float32Array | Uint8Array> = {
    frame: out.frame,
    x_px: out.xPx,
    y_px: out.yPx,
    charge: out.charge,
    sigma_px: out.sigmaPx,
    flags: out.flags,
  };
  try {
    await parquetRead({
      file: buffer,
      metadata,
      columns: COLUMNS.map(({ name }) => name),
      rowStart,
      rowEnd: rowStart + count,
      onChunk: ({ columnName, columnData, rowStart: from }) => {
        const at = from - rowStart;
        if (columnName === 't_ns') for (let i = 0; i < columnData.length; i++) out.tNs[at + i] = Number(columnData[i]);
        else into[columnName].set(columnData as ArrayLike<number>, at);
      },
    });
  } catch (error) {
    throw broken(file, `rows ${rowStart} to ${rowStart + count - 1} damaged (${(error as Error).message})`);
  }
  return out;
}

const broken = (file: string, found: string): InputError =>
  new InputError({
    file,
    found,
    expected: 'a Parquet table of photon events',
    todo: 'Copy the table again, or make it anew by inspecting the flight.',
  });
