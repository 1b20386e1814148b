/** What was really rendered of each source, pass by pass: the sum over chunks of a flight. */
export interface Tally {
  /** [source][pass]; the last pass collects what lies between the passes. */
  readonly events: number[][];
  readonly framesInView: number[][];
  readonly nearestM: number[];
}

export const emptyTally = (sources: number, passes: number): Tally => ({
  events: Array.from({ length: sources }, () => new Array<number>(passes + 1).fill(0)),
  framesInView: Array.from({ length: sources }, () => new Array<number>(passes + 1).fill(0)),
  nearestM: new Array<number>(sources).fill(Number.POSITIVE_INFINITY),
});

export function addTally(into: Tally, more: Tally): void {
  more.events.forEach((row, s) => {
    row.forEach((n, p) => {
      into.events[s]![p]! += n;
      into.framesInView[s]![p]! += more.framesInView[s]![p]!;
    });
    into.nearestM[s] = Math.min(into.nearestM[s]!, more.nearestM[s]!);
  });
}
