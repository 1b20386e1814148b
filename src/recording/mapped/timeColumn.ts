import { InputError } from '../../input/InputError.ts';
import type { Epoch, TimeScale } from '../../time/Epoch.ts';
import { type ClockFace, faceOfGpsWeek, gpsMinusUtcAt, stampOf, WEEK_S } from './clockReading.ts';
import { type SecondsParts, secondsParts, type TimeUnit } from './decimalParts.ts';
import type { TimeMapping } from './TrajectoryMapping.ts';
import type { Columns, TextRow } from './textTable.ts';

const DAY_S = 86_400;

/** Turns the time cells of a row into nanoseconds since the flight's epoch. */
export interface TimeReader {
  /** @throws InputError for cells that are no such time */
  read(row: TextRow): number;
  /** What the file's own leap seconds did to the stamps; null where they are those of the table. */
  mended(): string | null;
}

export function timeReader(mapping: TimeMapping, columns: Columns, epoch: Epoch, file: string): TimeReader {
  const refuse = (row: TextRow, field: string, found: string, expected: string): never => {
    throw new InputError({
      file,
      row: row.row,
      field,
      found: `"${found}"`,
      expected,
      todo: 'Correct the form or the unit of the time in the mapping.',
    });
  };
  const scale: TimeScale = mapping.form === 'gps week' ? 'GPS' : mapping.scale;
  const given = mapping.form === 'gps week' || scale !== 'UTC' ? null : (mapping.gpsMinusUtcS ?? null);
  let wrongLeapS = 0;
  const stamp = (face: ClockFace): number => {
    if (given !== null) wrongLeapS = given - gpsMinusUtcAt(face.s);
    return stampOf(epoch, face, scale, given);
  };
  const parts = (row: TextRow, cell: number, unit: TimeUnit, name: string): SecondsParts =>
    secondsParts(row.cells[cell], unit) ?? refuse(row, name, row.cells[cell], `a number of ${unit}`);
  const faceOf = (utc: string): ClockFace => {
    const [whole, fraction = ''] = utc.replace(/Z$/, '').split('.');
    return { s: Date.parse(`${whole}Z`) / 1000, ns: Number(fraction.slice(0, 9).padEnd(9, '0')) };
  };
  const read = ((): ((row: TextRow) => number) => {
    switch (mapping.form) {
      case 'number': {
        const cell = columns.at(mapping.column, 'time.column');
        if (mapping.since === 'epoch')
          return (row) => {
            const { s, ns } = parts(row, cell, mapping.unit, mapping.column);
            return s * 1e9 + ns;
          };
        const from = faceOf(mapping.since);
        return (row) => stamp(sum(from, parts(row, cell, mapping.unit, mapping.column)));
      }
      case 'gps week': {
        const { week } = mapping;
        const weekCell = typeof week === 'number' ? -1 : columns.at(week, 'time.week');
        const cell = columns.at(mapping.seconds, 'time.seconds');
        let weeks = typeof week === 'number' ? week : 0;
        let before = Number.NEGATIVE_INFINITY;
        return (row) => {
          const seconds = parts(row, cell, mapping.unit, mapping.seconds);
          if (seconds.s < 0 || seconds.s > WEEK_S)
            refuse(row, mapping.seconds, row.cells[cell], `seconds of the week, 0 to ${WEEK_S}`);
          if (weekCell >= 0) weeks = Number(row.cells[weekCell]);
          // A week that is not written down goes on over midnight of Saturday.
          else if (seconds.s < before - WEEK_S / 2) weeks++;
          before = seconds.s;
          if (!Number.isInteger(weeks) || weeks < 1024)
            refuse(
              row,
              'week',
              weekCell >= 0 ? row.cells[weekCell] : String(weeks),
              'the full GPS week, not rolled over at 1024 (2026 has weeks about 2400)',
            );
          return stamp(faceOfGpsWeek(weeks, seconds));
        };
      }
      case 'seconds of day': {
        const cell = columns.at(mapping.column, 'time.column');
        let dayS = Date.parse(`${mapping.day}T00:00:00Z`) / 1000;
        let before = Number.NEGATIVE_INFINITY;
        return (row) => {
          const seconds = parts(row, cell, 's', mapping.column);
          if (seconds.s < 0 || seconds.s > DAY_S)
            refuse(row, mapping.column, row.cells[cell], `seconds of the day, 0 to ${DAY_S}`);
          if (seconds.s < before - DAY_S / 2) dayS += DAY_S;
          before = seconds.s;
          return stamp(sum({ s: dayS, ns: 0 }, seconds));
        };
      }
      case 'date and time': {
        const date = columns.at(mapping.date, 'time.date');
        const time = columns.at(mapping.time, 'time.time');
        return (row) => {
          const dayS =
            dayOf(row.cells[date], mapping.order) ??
            refuse(row, mapping.date, row.cells[date], `a day in the order ${mapping.order}`);
          const seconds =
            timeOfDay(row.cells[time]) ?? refuse(row, mapping.time, row.cells[time], 'a time such as 06:30:00.25');
          return stamp(sum({ s: dayS, ns: 0 }, seconds));
        };
      }
      case 'ISO 8601': {
        const cell = columns.at(mapping.column, 'time.column');
        return (row) => {
          const found = /^(\d{4}-\d{2}-\d{2})[T ](\d{2}:\d{2}:\d{2}(?:\.\d+)?)Z?$/.exec(row.cells[cell]);
          const dayS = found && dayOf(found[1], 'year month day');
          const seconds = found && timeOfDay(found[2]);
          if (dayS === null || seconds === null)
            return refuse(row, mapping.column, row.cells[cell], 'an instant such as 2026-05-12T06:30:00.25Z');
          return stamp(sum({ s: dayS, ns: 0 }, seconds));
        };
      }
    }
  })();
  return {
    read,
    mended: () =>
      given !== null && wrongLeapS !== 0
        ? `Times in UTC were made from GPS time with ${given} s, where ${given - wrongLeapS} s are right: mended by ${wrongLeapS} s.`
        : null,
  };
}

function sum(a: ClockFace, b: SecondsParts): ClockFace {
  const ns = a.ns + b.ns;
  return ns >= 1e9 ? { s: a.s + b.s + 1, ns: ns - 1e9 } : { s: a.s + b.s, ns };
}

const ORDERS = { 'year month day': [0, 1, 2], 'day month year': [2, 1, 0], 'month day year': [2, 0, 1] } as const;

/** Seconds since 1970 at the begin of a day; null where the text is none. Without marks two digits a part, four for the year. */
function dayOf(text: string, order: keyof typeof ORDERS): number | null {
  const places = ORDERS[order];
  const run = order === 'year month day' ? /^(\d{4})(\d{2})(\d{2})$/ : /^(\d{2})(\d{2})(\d{2}|\d{4})$/;
  const found = /^(\d{1,4})[-/. ](\d{1,2})[-/. ](\d{1,4})$/.exec(text) ?? run.exec(text);
  if (!found) return null;
  const [year, month, day] = places.map((i) => Number(found[i + 1]));
  const full = year < 100 ? 2000 + year : year;
  const ms = Date.UTC(full, month - 1, day);
  const back = new Date(ms);
  return back.getUTCMonth() === month - 1 && back.getUTCDate() === day ? ms / 1000 : null;
}

export function timeOfDay(text: string): SecondsParts | null {
  const found = /^(\d{2}):?(\d{2}):?(\d{2}(?:\.\d+)?)$/.exec(text);
  const seconds = found && secondsParts(found[3], 's');
  if (!found || !seconds || Number(found[1]) > 23 || Number(found[2]) > 59 || seconds.s > 60) return null;
  return { s: 3600 * Number(found[1]) + 60 * Number(found[2]) + seconds.s, ns: seconds.ns };
}
