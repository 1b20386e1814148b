import type { LineModel } from '../../line/LineModel.ts';
import { lineAgainstTrack } from '../../line/lineAgainstTrack.ts';
import type { FrameIndex } from '../../recording/FrameIndex.ts';
import type { FramePoses } from '../../sighting/EventRays.ts';
import type { Track } from '../../trajectory/Track.ts';
import { trackFindings } from '../../trajectory/trackFindings.ts';
import type { CheckFinding } from './CheckFinding.ts';

/** Share of frames without a pose from which the flight suffers, and from which it is no flight. */
const WITHOUT_POSE_WARNING = 0.002;
const WITHOUT_POSE_FAULT = 0.2;

/** What the trajectory itself shows, against the frames, and against the line. */
export function trajectoryFindings(
  track: Track,
  line: LineModel | null,
  index: FrameIndex,
  poses: FramePoses,
  refused: Readonly<Record<string, number>>,
): CheckFinding[] {
  const findings = trackFindings(track).map(
    ({ name, weight, detail, fromNs, toNs }): CheckFinding => ({
      area: 'trajectory',
      weight,
      name,
      detail,
      fromNs,
      toNs,
    }),
  );
  const without = index.length - poses.count;
  if (without > 0) {
    const share = without / index.length;
    const reasons = Object.entries(refused)
      .map(([because, count]) => `${count} ${because}`)
      .join(', ');
    findings.push({
      area: 'trajectory',
      weight: share > WITHOUT_POSE_FAULT ? 'fault' : share > WITHOUT_POSE_WARNING ? 'warning' : 'note',
      name: 'frames without a pose',
      detail: `${without} of ${index.length} uv frames (${reasons})`,
      ...stretchWithout(index, poses),
    });
  }
  if (line)
    for (const { name, weight, detail } of lineAgainstTrack(line, track))
      findings.push({ area: 'trajectory', weight, name, detail });
  return findings;
}

/** From the first to the last frame that has none. */
function stretchWithout(index: FrameIndex, poses: FramePoses): { fromNs: number; toNs: number } {
  const posed = new Set(poses.frame);
  const bare = index.filter((entry) => !posed.has(entry.frame));
  return { fromNs: bare[0].tNs, toNs: bare[bare.length - 1].tNs };
}
