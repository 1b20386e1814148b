import type { LedgerTotals } from '../../recording/recorder/FrameFate.ts';

/** Notes held for the summary; the file has all of them. */
const MOST_NOTES = 100;

export interface RecorderSummary {
  readonly totals: LedgerTotals;
  readonly glows: number;
  readonly photonEvents: number;
  readonly uvFramesWithEvents: number;
  readonly poses: number;
  readonly lostPoses: number;
  /** Of both cameras, as they came in. */
  readonly imageBytesIn: number;
  readonly notes: readonly string[];
  /** Notes that stand in the file alone. */
  readonly furtherNotes: number;
}

/** What a recording says of itself when it ends: counted as it goes on, and taken back to what the file is known to have. */
export class RecorderTally {
  glows = 0;
  photonEvents = 0;
  uvFramesWithEvents = 0;
  poses = 0;
  lostPoses = 0;
  imageBytesIn = 0;
  readonly #notes: string[] = [];
  #furtherNotes = 0;
  #acknowledged = { photonEvents: 0, uvFramesWithEvents: 0, poses: 0 };

  note(text: string): void {
    if (this.#notes.length < MOST_NOTES) this.#notes.push(text);
    else this.#furtherNotes++;
  }

  /** Everything counted so far is in the file. */
  acknowledge(): void {
    const { photonEvents, uvFramesWithEvents, poses } = this;
    this.#acknowledged = { photonEvents, uvFramesWithEvents, poses };
  }

  /** The disk took no more: what is not acknowledged does not count. */
  loseTheRest(): void {
    Object.assign(this, this.#acknowledged);
  }

  summary(totals: LedgerTotals): RecorderSummary {
    const { glows, photonEvents, uvFramesWithEvents, poses, lostPoses, imageBytesIn } = this;
    return {
      totals,
      glows,
      photonEvents,
      uvFramesWithEvents,
      poses,
      lostPoses,
      imageBytesIn,
      notes: this.#notes,
      furtherNotes: this.#furtherNotes,
    };
  }
}
