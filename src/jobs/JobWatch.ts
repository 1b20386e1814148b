/** How a job tells whoever started it what it does; the command draws a line, the server sends events. */
export interface JobWatch {
  /** `done` of `total` things; unit in the plural, e.g. 'frames'. */
  progress(step: string, done: number, total: number, unit: string): void;
  /** Something the user should know, in a sentence. */
  note(text: string): void;
  /** Set where the user wants the job to stop at the next safe place. */
  readonly signal?: AbortSignal;
}

/** The job was asked to stop, and stopped where it can go on later. */
export class Interrupted extends Error {
  constructor() {
    super('Interrupted. What was done so far is kept: run the same command again to go on.');
    this.name = 'Interrupted';
  }
}
