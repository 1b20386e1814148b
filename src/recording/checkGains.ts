import { InputError } from '../input/InputError.ts';
import type { FrameIndex } from './FrameIndex.ts';

/** @throws InputError where a gain of the index is not one that the rig's curve reaches */
export function checkGains(index: FrameIndex, indexFile: string, gains: readonly number[]): void {
  const least = Math.min(...gains);
  const most = Math.max(...gains);
  for (const { gain, frame } of index) {
    if (gain >= least && gain <= most) continue;
    throw new InputError({
      file: indexFile,
      row: frame + 2,
      field: 'gain',
      found: String(gain),
      expected: `a setting within the rig's gain curve, ${least} to ${most}`,
      todo: 'Add the setting to the gain curve of rig.json, or correct the index.',
    });
  }
}
