import { expect, test } from 'vitest';
import { leastCostPairs, type PossiblePair } from './leastCostPairs.ts';
import { randomFrom } from './random.ts';

/** The least sum over every way to pair, by trying all. */
function leastSum(pairs: readonly PossiblePair[], rows: number, aloneCost: number): number {
  const from = (row: number, used: ReadonlySet<number>): number => {
    if (row === rows) return 0;
    let best = from(row + 1, used) + (pairs.some((pair) => pair.row === row) ? aloneCost : 0);
    for (const pair of pairs)
      if (pair.row === row && !used.has(pair.column))
        best = Math.min(best, pair.cost + from(row + 1, new Set([...used, pair.column])));
    return best;
  };
  return from(0, new Set());
}

test.each([1, 2, 3, 4, 5, 6, 7, 8])('no other pairing of up to six by six costs less, seed %i', (seed) => {
  const random = randomFrom(seed);
  for (let trial = 0; trial < 40; trial++) {
    const [rows, columns] = [1 + Math.floor(6 * random.uniform()), 1 + Math.floor(6 * random.uniform())];
    const pairs: PossiblePair[] = [];
    for (let row = 0; row < rows; row++)
      for (let column = 0; column < columns; column++)
        if (random.uniform() < 0.5) pairs.push({ row, column, cost: 30 * random.uniform() - 5 });
    const chosen = leastCostPairs(pairs, 20).map((k) => pairs[k]);
    expect(new Set(chosen.map(({ row }) => row)).size).toBe(chosen.length);
    expect(new Set(chosen.map(({ column }) => column)).size).toBe(chosen.length);
    const alone = new Set(pairs.map(({ row }) => row)).size - chosen.length;
    // Sums of at most six numbers: rounding only.
    expect(chosen.reduce((sum, { cost }) => sum + cost, 20 * alone)).toBeCloseTo(leastSum(pairs, rows, 20), 9);
  }
});

test('a near pair gives way where that lets both find a partner', () => {
  const pairs = [
    { row: 0, column: 0, cost: 1 },
    { row: 0, column: 1, cost: 4 },
    { row: 1, column: 0, cost: 3 },
  ];
  expect(leastCostPairs(pairs, 20)).toEqual([1, 2]);
  // Where being alone is cheap, the near pair stands.
  expect(leastCostPairs(pairs, 3)).toEqual([0]);
});
