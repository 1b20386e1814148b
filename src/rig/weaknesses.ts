import type { RigDescription } from '../recording/RigDescription.ts';
import type { BenchRun, TargetMark } from './BenchObservations.ts';
import type { Registration } from './Registration.ts';
import { tellsAttitude } from './rigBundle.ts';

/** Something that a run leaves open, in words for the person who recorded it. */
export interface Weakness {
  readonly what: string;
  readonly record: string;
}

/** Names the degenerate shapes of a run: one range, a strip of the image, a target that tells no attitude. What can not be calibrated at all is refused before, in `fitRig.ts`. */
export function weaknesses(rig: RigDescription, run: BenchRun, registration: Omit<Registration, 'hash'>): Weakness[] {
  const found: Weakness[] = [];
  const { support, covariance } = registration;
  const { uv } = rig.cameras;
  const baseline = Math.sqrt(covariance[21 * 25]);
  if (1 / support.nearestM - 1 / support.farthestM < 0.25 / support.nearestM)
    found.push({
      what: `one range only (${support.nearestM.toFixed(1)} to ${support.farthestM.toFixed(1)} m): parallax at other ranges rests on the nominal baseline`,
      record: 'Record a second sweep at half or twice this range or further.',
    });
  else if (baseline > 0.9 * rig.pair.sigmaM)
    found.push({
      what: `the baseline is known no better (${(1000 * baseline).toFixed(1)} mm) than rig.json states it`,
      record: 'Record a sweep nearer to the rig.',
    });
  const us = support.uvHullPx.map((p) => p[0]);
  const vs = support.uvHullPx.map((p) => p[1]);
  const widthShare = (Math.max(...us) - Math.min(...us)) / uv.widthPx;
  const heightShare = (Math.max(...vs) - Math.min(...vs)) / uv.heightPx;
  if (widthShare < 0.6 || heightShare < 0.6)
    found.push({
      what: `the target covered ${Math.round(100 * widthShare)} % of the width and ${Math.round(100 * heightShare)} % of the height of the ultraviolet image`,
      record: 'Carry the target into all four corners of the ultraviolet image.',
    });
  if (!tellsAttitude(run))
    found.push({
      what: `a target of ${run.marks.length} ${run.marks.length === 1 ? 'mark' : 'marks'} tells neither its range nor its attitude: the scale rests on rig.json and on the stated ranges`,
      record: 'Use a board with at least five marks, not all on one line.',
    });
  return found;
}

/** A board whose lamps spread across their line by less than a tenth of what they do along it does not tell how it is turned. */
export function nearlyOnALine(marks: readonly TargetMark[]): boolean {
  const n = marks.length;
  const mean = (i: 0 | 1): number => marks.reduce((s, m) => s + m.lampM[i], 0) / n;
  const [mx, my] = [mean(0), mean(1)];
  let xx = 0;
  let xy = 0;
  let yy = 0;
  for (const { lampM } of marks) {
    xx += (lampM[0] - mx) ** 2;
    xy += (lampM[0] - mx) * (lampM[1] - my);
    yy += (lampM[1] - my) ** 2;
  }
  const half = (xx + yy) / 2;
  const root = Math.sqrt(Math.max(0, half * half - (xx * yy - xy * xy)));
  return half - root < 0.01 * (half + root);
}
