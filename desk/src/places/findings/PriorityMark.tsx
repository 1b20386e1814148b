import type { FindingRow } from '../../server/answers.ts';

const STROKES: Record<FindingRow['priority'], number> = {
  'act now': 4,
  'plan soon': 3,
  'next maintenance': 2,
  watch: 1,
  'as expected in this weather': 0,
  'not a finding': 0,
};

/** Urgency as strokes beside each other, more for more: it reads without colour. */
export function PriorityMark({ priority }: { priority: FindingRow['priority'] }) {
  const full = STROKES[priority];
  return (
    <svg className="priority-mark" width="20" height="12" viewBox="0 0 20 12" aria-hidden="true">
      {[0, 1, 2, 3].map((i) => (
        <rect
          key={i}
          x={1 + 5 * i}
          y={8 - 2.4 * i}
          width="3"
          height={3 + 2.4 * i}
          fill={i < full ? 'var(--ink)' : 'none'}
          stroke="var(--ink-mark)"
          strokeWidth="0.8"
        />
      ))}
    </svg>
  );
}
