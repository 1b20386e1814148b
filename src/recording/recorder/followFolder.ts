import { existsSync } from 'node:fs';
import { type FileHandle, open, readFile, stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { GreyFrame } from '../../camera/GreyFrame.ts';
import { InputError } from '../../input/InputError.ts';
import { parseWith } from '../../input/parseWith.ts';
import { decodeGreyImage } from '../decodeImage.ts';
import { type FlightDescription, flightDescription } from '../FlightDescription.ts';
import { insideFolder } from '../insideFolder.ts';
import { readJsonFile } from '../jsonFile.ts';
import { unreadable } from '../unreadable.ts';
import { type GrowingRow, GrowingTable } from './growingTable.ts';
import type { Incoming, IncomingColour, IncomingItem, IncomingUv, PoseRow } from './IncomingItem.ts';

export interface FollowOptions {
  /** A growing folder that has not grown for so long has ended. Default 10. */
  readonly idleS?: number;
  readonly signal?: AbortSignal;
}

/** How often a growing folder is looked at. */
const POLL_MS = 40;
/** A frame whose row is there and whose bytes are not yet: how long they are waited for. */
const BYTES_LATE_MS = 1000;

/** Description of a flight that is still being recorded; `flight.json`, with the same content, follows when it is complete. */
export const BEGUN_FILE = 'flight.begun.json';

/**
 * A flight folder as a stream, whether complete or still being written. Rows of the three tables are merged by their stamps as
 * far as all are there. The flight is complete when `flight.json` is there and the tables are read to their ends; until
 * then `flight.begun.json` describes it.
 * @throws InputError where neither description is there or right
 */
export async function followFolder(folder: string, options: FollowOptions = {}): Promise<Incoming> {
  const complete = join(folder, 'flight.json');
  const file = existsSync(complete) ? complete : join(folder, BEGUN_FILE);
  if (!existsSync(file)) {
    throw new InputError({
      file: folder,
      found: `neither flight.json nor ${BEGUN_FILE}`,
      expected: 'a flight folder, complete or being written',
      todo: `Check the path; a recorder writes ${BEGUN_FILE} before its first frame.`,
    });
  }
  const description = parseWith(flightDescription, (await readJsonFile(file)).value, file);
  if (description.trajectory.mapping !== undefined)
    throw new InputError({
      file,
      field: 'trajectory.mapping',
      found: `"${description.trajectory.mapping}"`,
      expected: 'a trajectory.csv that grows with the frames',
      todo: 'Convert the trajectory first (corposant trajectory), and name the file that it writes, without a mapping.',
    });
  return { description, items: () => new FolderStream(folder, description, complete, options).items() };
}

type Head = Extract<IncomingItem, { kind: 'uv' | 'colour' | 'pose' | 'unreadable' | 'lost pose' }>;

interface Stream {
  readonly table: GrowingTable;
  readonly take: (row: GrowingRow | string) => Promise<Head>;
  readonly rows: (GrowingRow | string)[];
  /** The flight is complete and this table read to its end. */
  ended: boolean;
}

class FolderStream {
  readonly #folder: string;
  readonly #description: FlightDescription;
  readonly #completeMark: string;
  readonly #options: FollowOptions;
  readonly #raw = new Map<string, FileHandle>();

  constructor(folder: string, description: FlightDescription, completeMark: string, options: FollowOptions) {
    this.#folder = folder;
    this.#description = description;
    this.#completeMark = completeMark;
    this.#options = options;
  }

  async *items(): AsyncGenerator<IncomingItem> {
    const { streams, trajectory } = this.#description;
    const table = (name: string, field: string): GrowingTable =>
      new GrowingTable(insideFolder(this.#folder, name, { file: this.#completeMark, field }));
    const all: Stream[] = [
      { table: table(trajectory.file, 'trajectory.file'), take: async (row) => poseOf(row), rows: [], ended: false },
      { table: table(streams.uv.index, 'streams.uv.index'), take: (row) => this.#uv(row), rows: [], ended: false },
      {
        table: table(streams.colour.index, 'streams.colour.index'),
        take: (row) => this.#colour(row),
        rows: [],
        ended: false,
      },
    ];
    const idleMs = 1000 * (this.#options.idleS ?? 10);
    let grewAtMs = performance.now();
    try {
      for (;;) {
        if (this.#options.signal?.aborted) return;
        // The mark is looked for before the tables are read: what was written before it is then surely seen.
        const last = existsSync(this.#completeMark);
        let starved = false;
        for (const stream of all) {
          if (stream.rows.length > 0 || stream.ended) continue;
          stream.rows.push(...(await stream.table.read(last)));
          // A last line without its end takes a second look.
          if (last && stream.rows.length === 0) stream.rows.push(...(await stream.table.read(last)));
          if (stream.rows.length > 0) grewAtMs = performance.now();
          else if (last) stream.ended = true;
          else starved = true;
        }
        if (all.every((stream) => stream.rows.length === 0)) {
          if (last) return;
          if (performance.now() - grewAtMs > idleMs) {
            yield {
              kind: 'note',
              text: `The folder has not grown for ${idleMs / 1000} s and has no flight.json: taken as ended.`,
            };
            return;
          }
          yield { kind: 'pause' };
          await new Promise((resolve) => setTimeout(resolve, POLL_MS));
          continue;
        }
        // Merged by stamp until a table runs out; then the tables are looked at again before going on.
        do {
          const next = all
            .filter((stream) => stream.rows.length > 0)
            .reduce((a, b) => (stampOf(b) < stampOf(a) ? b : a));
          yield await next.take(next.rows.shift()!);
          if (next.rows.length === 0 && !next.ended) starved = true;
        } while (!starved && all.some((stream) => stream.rows.length > 0));
      }
    } finally {
      for (const { table } of all) await table.close();
      for (const handle of this.#raw.values()) await handle.close();
      this.#raw.clear();
    }
  }

  async #uv(row: GrowingRow | string): Promise<Head> {
    const faulty = faultOf(row, ['t_ns', 'exposure_ns', 'gain']);
    if (typeof row === 'string' || faulty) return { kind: 'unreadable', stream: 'uv', what: faulty };
    const { encoding, widthPx, heightPx, bitDepth } = this.#description.streams.uv;
    const frameBytes = (widthPx * heightPx * bitDepth) / 8;
    const offset = row.number('offset_bytes') || 0;
    const name = row.cell('file');
    const file = this.#fileOf(row, name, this.#description.streams.uv.index);
    const read =
      encoding === 'raw'
        ? () => this.#rawFrame(file, offset, frameBytes)
        : () => this.#whenThere(file, () => decodeGreyImage(file, this.#description.streams.uv));
    const bytes = encoding === 'raw' ? frameBytes : await sizeOf(file);
    return {
      kind: 'uv',
      tNs: row.number('t_ns'),
      exposureNs: row.number('exposure_ns'),
      gain: row.number('gain'),
      bytes,
      read,
    } satisfies IncomingUv;
  }

  async #colour(row: GrowingRow | string): Promise<Head> {
    const faulty = faultOf(row, ['t_ns', 'exposure_ns']);
    if (typeof row === 'string' || faulty) return { kind: 'unreadable', stream: 'colour', what: faulty };
    const { encoding, index } = this.#description.streams.colour;
    const file = this.#fileOf(row, row.cell('file'), index);
    return {
      kind: 'colour',
      tNs: row.number('t_ns'),
      exposureNs: row.number('exposure_ns'),
      bytes: await sizeOf(file),
      read: () =>
        this.#whenThere(file, async () => {
          const bytes = await readFile(file);
          checkWholeImage(bytes, encoding, file);
          return { format: encoding, bytes };
        }),
    } satisfies IncomingColour;
  }

  #fileOf(row: GrowingRow, name: string, index: string): string {
    return insideFolder(this.#folder, name, { file: join(this.#folder, index), row: row.line, field: 'file' });
  }

  async #rawFrame(file: string, offset: number, frameBytes: number): Promise<GreyFrame> {
    const { widthPx, heightPx, bitDepth } = this.#description.streams.uv;
    const bytes = new Uint8Array(frameBytes);
    await this.#whenThere(file, async () => {
      const handle = await this.#rawHandle(file);
      const { bytesRead } = await handle.read(bytes, 0, frameBytes, offset);
      if (bytesRead < frameBytes) throw cutOff(file, `${bytesRead} bytes from byte ${offset}`, `${frameBytes}`);
    });
    return { widthPx, heightPx, data: bitDepth === 8 ? bytes : new Uint16Array(bytes.buffer) };
  }

  async #rawHandle(file: string): Promise<FileHandle> {
    const known = this.#raw.get(file);
    if (known) return known;
    // A stream goes through its files one after the other; frames still waiting may be in the one before.
    if (this.#raw.size >= 2) {
      const [oldest, handle] = [...this.#raw][0];
      this.#raw.delete(oldest);
      await handle.close();
    }
    const handle = await open(file, 'r');
    this.#raw.set(file, handle);
    return handle;
  }

  /** Reads, and where the bytes are not there yet, waits for them as long as the flight is being written. */
  async #whenThere<T>(what: string, read: () => Promise<T>): Promise<T> {
    const untilMs = performance.now() + BYTES_LATE_MS;
    for (;;) {
      const growing = !existsSync(this.#completeMark);
      try {
        return await read();
      } catch (raised) {
        const error = (raised as NodeJS.ErrnoException).syscall === undefined ? raised : notThere(raised, what);
        if (!growing || performance.now() > untilMs || this.#options.signal?.aborted) throw error;
        await new Promise((resolve) => setTimeout(resolve, POLL_MS));
      }
    }
  }
}

const stampOf = ({ rows: [row] }: Stream): number =>
  typeof row === 'string' ? -Infinity : row.number('t_ns') || -Infinity;

/** '' where the row has whole stamps and numbers. */
function faultOf(row: GrowingRow | string, columns: readonly string[]): string {
  if (typeof row === 'string') return row;
  for (const column of columns) {
    const value = row.number(column);
    const whole = column.endsWith('_ns');
    if (!(whole ? Number.isSafeInteger(value) : Number.isFinite(value)))
      return `row ${row.line}, ${column}: found '${row.cell(column)}', expected ${whole ? 'whole nanoseconds' : 'a number'}`;
  }
  return '';
}

const POSE_COLUMNS = ['lat_deg', 'lon_deg', 'height_m', 'roll_deg', 'pitch_deg', 'heading_deg'] as const;
const VELOCITY_COLUMNS = ['v_north_mps', 'v_east_mps', 'v_down_mps'];
const SIGMA_COLUMNS = ['sd_north_m', 'sd_east_m', 'sd_down_m', 'sd_roll_deg', 'sd_pitch_deg', 'sd_heading_deg'];

function poseOf(row: GrowingRow | string): Head {
  const faulty = faultOf(row, ['t_ns', ...POSE_COLUMNS]);
  if (typeof row === 'string' || faulty) return { kind: 'lost pose', what: faulty };
  const group = (columns: readonly string[]): number[] => {
    const values = columns.map((column) => row.number(column));
    return values.every(Number.isFinite) ? values : [];
  };
  const [latDeg, lonDeg, heightM, rollDeg, pitchDeg, headingDeg] = POSE_COLUMNS.map((column) => row.number(column));
  const pose: PoseRow = {
    tNs: row.number('t_ns'),
    latDeg,
    lonDeg,
    heightM,
    rollDeg,
    pitchDeg,
    headingDeg,
    velocityNedMps: group(VELOCITY_COLUMNS),
    sigma: group(SIGMA_COLUMNS),
  };
  return { kind: 'pose', row: pose };
}

const sizeOf = (file: string): Promise<number> =>
  stat(file).then(
    ({ size }) => size,
    () => 0,
  );

const cutOff = (file: string, found: string, expected: string): InputError =>
  new InputError({
    file,
    found,
    expected,
    todo: 'The frame is counted as unreadable; see whether the disk it is written to keeps up.',
  });

const notThere = (error: unknown, file: string): InputError =>
  new InputError({
    file,
    found: unreadable(error),
    expected: 'the frame that the index names',
    todo: 'The frame is counted as unreadable; see whether the disk it is written to keeps up.',
  });

/** A file that is still being written lacks its end. */
function checkWholeImage(bytes: Uint8Array, encoding: 'jpeg' | 'png', file: string): void {
  const tail = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength).subarray(-12);
  const whole = encoding === 'jpeg' ? tail.subarray(-2).equals(Buffer.of(0xff, 0xd9)) : tail.includes('IEND');
  if (!whole) throw cutOff(file, `${bytes.length} bytes without the end of the image`, `a whole ${encoding}`);
}
