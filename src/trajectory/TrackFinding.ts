import type { Track } from './Track.ts';

export const TRACK_FINDINGS = [
  'gap',
  'jump',
  'stuck',
  'repeated rows',
  'poor stretch',
  'weaker fix',
  'read with assumptions',
  'no standard deviations',
  'standard deviations of zero',
  'attitude never changes',
  'angles look like radians',
  'positions look like radians',
  'speeds look like knots',
  'speeds look like km/h',
  'speeds look like feet per second',
  'north and east speeds look swapped',
  'vertical speed looks upside down',
  'speeds disagree with positions',
] as const;
export type TrackFindingName = (typeof TRACK_FINDINGS)[number];

/** Something about a trajectory that whoever answers for the flight should know. Rows count from 0. */
export interface TrackFinding {
  readonly name: TrackFindingName;
  /** note: good to know; warning: accuracy suffers there; fault: positions cannot be trusted until it is mended. */
  readonly weight: 'note' | 'warning' | 'fault';
  readonly fromRow: number;
  readonly toRow: number;
  readonly fromNs: number;
  readonly toNs: number;
  readonly detail: string;
}

export const finding = (
  track: Track,
  name: TrackFindingName,
  weight: TrackFinding['weight'],
  [fromRow, toRow]: readonly [number, number],
  detail: string,
): TrackFinding => ({ name, weight, fromRow, toRow, fromNs: track.tNs[fromRow], toNs: track.tNs[toRow], detail });

export const wholeTrack = (track: Track): readonly [number, number] => [0, track.count - 1];
