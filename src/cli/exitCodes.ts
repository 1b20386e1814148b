/** What the command's exit code says. docs/command.md lists them for whoever writes scripts. */
export const EXIT = {
  done: 0,
  /** The job ran, and its verdict is negative: a bench outside its tolerance, a flight not fit to go home. */
  verdictNegative: 1,
  badUsage: 2,
  badInput: 3,
  /** Our mistake, not the user's. */
  fault: 4,
  interrupted: 130,
} as const;
