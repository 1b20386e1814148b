import { expect, test } from 'vitest';
import { normalCdf } from '../../maths/distributions.ts';
import { randomFrom } from '../../maths/random.ts';
import { fitPulseHeights } from './pulseHeights.ts';

test.each([0, 30, 60])(
  'mean, spread and the share missed are told from the charges above a soft threshold at %i DN, seed 41',
  (threshold) => {
    const random = randomFrom(41);
    // Gamma of shape 2.5 and mean 120, as of a channel plate; found with the chance that noise of 6 DN leaves.
    const all = Array.from({ length: 20_000 }, () => 48 * random.gamma(2.5));
    const found = all.filter((q) => threshold === 0 || random.uniform() < normalCdf((q - threshold) / 6));
    const law = fitPulseHeights(found);
    // 20 000 charges leave 0.5 % of the mean; carrying the law below the cut costs two to three times that.
    expect(Math.abs(law.mean / 120 - 1)).toBeLessThan(0.02);
    expect(Math.abs(law.spread2 / 0.4 - 1)).toBeLessThan(0.08);
    expect(Math.abs(law.foundShare / (found.length / all.length) - 1)).toBeLessThan(threshold === 60 ? 0.035 : 0.02);
  },
);
