import type { SourceFit } from './pointSource.ts';
import type { SearchScene } from './SearchScene.ts';

/** How the events of a source lie in time. */
export interface FramesOfSource {
  /** Events of the source (sums of membership) by pose. */
  readonly byPose: ReadonlyMap<number, number>;
  /** Those poses, rising. */
  readonly poses: readonly number[];
  readonly events: number;
  /** Poses with an event that is more likely of the source than not. */
  readonly frames: number;
  /** Events in the two neighbouring frames that have most. */
  readonly mostInTwo: number;
}

export function framesOf(source: SourceFit, scene: SearchScene): FramesOfSource {
  const byPose = new Map<number, number>();
  const likely = new Set<number>();
  let events = 0;
  source.event.forEach((k, i) => {
    const pose = scene.pose[k];
    events += source.membership[i];
    byPose.set(pose, (byPose.get(pose) ?? 0) + source.membership[i]);
    if (source.membership[i] > 0.5) likely.add(pose);
  });
  let mostInTwo = 0;
  for (const [pose, n] of byPose) mostInTwo = Math.max(mostInTwo, n + (byPose.get(pose + 1) ?? 0));
  const poses = [...byPose.keys()].sort((a, b) => a - b);
  return { byPose, poses, events, frames: likely.size, mostInTwo };
}
