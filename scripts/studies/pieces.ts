/**
 * A long study in pieces: with CORPOSANT_STUDY_PIECES set to a folder, each piece done is kept there as JSON and not done again, so
 * that a study can be stopped, shared between runs and put together at the end. A piece is known by its name alone: after
 * a change to what is studied, begin with an empty folder. Without the variable everything is done in one go. CORPOSANT_STUDY_SECONDS
 * ends a run after so much processor time; with CORPOSANT_STUDY_PARTIAL set as well, a study may then make its page of what is done.
 */
import { existsSync, mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

/** Ends a run before its time: what was done is kept. */
export class NotYetDone extends Error {}

export function piece<T>(name: string, make: () => T): T {
  const kept = pieceKept<T>(name);
  if (kept !== null) return kept;
  const made = make();
  keepPiece(name, made);
  return made;
}

/** The same for what takes a while and is waited for. */
export async function pieceInTurn<T>(name: string, make: () => Promise<T>): Promise<T> {
  const kept = pieceKept<T>(name);
  if (kept !== null) return kept;
  const made = await make();
  keepPiece(name, made);
  return made;
}

const fileOf = (folder: string, name: string): string =>
  join(folder, `${name.replaceAll(/[^a-zA-Z0-9.-]+/g, '-')}.json`);

function pieceKept<T>(name: string): T | null {
  const folder = process.env.CORPOSANT_STUDY_PIECES;
  if (!folder || !existsSync(fileOf(folder, name))) return null;
  return JSON.parse(readFileSync(fileOf(folder, name), 'utf8')) as T;
}

function keepPiece(name: string, made: unknown): void {
  const folder = process.env.CORPOSANT_STUDY_PIECES;
  if (!folder) return;
  const file = fileOf(folder, name);
  mkdirSync(folder, { recursive: true });
  // Whole or not at all: a run that is killed leaves no half of a piece.
  writeFileSync(`${file}.${process.pid}.part`, JSON.stringify(made));
  renameSync(`${file}.${process.pid}.part`, file);
}

/** Whether the pieces allowed to this run (CORPOSANT_STUDY_SECONDS of processor time, if set) are used up. */
export function isTimeUp(): boolean {
  const seconds = Number(process.env.CORPOSANT_STUDY_SECONDS ?? Number.POSITIVE_INFINITY);
  return process.cpuUsage().user / 1e6 > seconds;
}
