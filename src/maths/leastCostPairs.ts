/** A pair that may be formed, and what it costs. */
export interface PossiblePair {
  readonly row: number;
  readonly column: number;
  readonly cost: number;
}

/**
 * Pairs rows with columns so that the sum of the costs is least; each is used once at most, and a row left alone costs
 * `aloneCost`. Rows and columns that no chain of possible pairs connects are solved apart.
 * @returns indices into `pairs`, rising
 * Accuracy: the optimum, to rounding. Source: Kuhn 1955, in the shortest-augmenting-path form of Jonker & Volgenant, Computing
 * 38 (1987) 325 (from memory). Time grows with the third power of the largest connected group.
 */
export function leastCostPairs(pairs: readonly PossiblePair[], aloneCost: number): number[] {
  const groups = new Map<string, number[]>();
  const root = new Map<string, string>();
  const find = (node: string): string => {
    const up = root.get(node) ?? node;
    if (up === node) return node;
    const top = find(up);
    root.set(node, top);
    return top;
  };
  for (const { row, column } of pairs) root.set(find(`r${row}`), find(`c${column}`));
  pairs.forEach(({ row }, k) => {
    const group = find(`r${row}`);
    groups.set(group, [...(groups.get(group) ?? []), k]);
  });
  return [...groups.values()].flatMap((own) => ofOneGroup(pairs, own, aloneCost)).sort((a, b) => a - b);
}

function ofOneGroup(pairs: readonly PossiblePair[], own: readonly number[], aloneCost: number): number[] {
  const rows = [...new Set(own.map((k) => pairs[k].row))];
  const columns = [...new Set(own.map((k) => pairs[k].column))];
  // A column of its own for each row to be alone in.
  const width = columns.length + rows.length;
  const cost = rows.map((_, i) =>
    Float64Array.from({ length: width }, (_, j) => (j === columns.length + i ? aloneCost : Number.POSITIVE_INFINITY)),
  );
  const pairAt = rows.map(() => new Int32Array(width).fill(-1));
  for (const k of own) {
    const [i, j] = [rows.indexOf(pairs[k].row), columns.indexOf(pairs[k].column)];
    if (pairs[k].cost >= cost[i][j]) continue;
    cost[i][j] = pairs[k].cost;
    pairAt[i][j] = k;
  }
  const rowOf = new Int32Array(width).fill(-1);
  const rowPrice = new Float64Array(rows.length);
  const columnPrice = new Float64Array(width);
  for (let start = 0; start < rows.length; start++) {
    const least = new Float64Array(width).fill(Number.POSITIVE_INFINITY);
    const from = new Int32Array(width).fill(-1);
    const done = new Uint8Array(width);
    let row = start;
    let column = -1;
    // The cheapest way from the new row to a free column, through columns that are taken.
    do {
      let next = -1;
      let step = Number.POSITIVE_INFINITY;
      for (let j = 0; j < width; j++) {
        if (done[j]) continue;
        const reduced = cost[row][j] - rowPrice[row] - columnPrice[j];
        if (reduced < least[j]) {
          least[j] = reduced;
          from[j] = column;
        }
        if (least[j] < step) {
          step = least[j];
          next = j;
        }
      }
      rowPrice[start] += step;
      for (let j = 0; j < width; j++) {
        if (done[j]) {
          rowPrice[rowOf[j]] += step;
          columnPrice[j] -= step;
        } else least[j] -= step;
      }
      done[next] = 1;
      column = next;
      row = rowOf[next];
    } while (row >= 0);
    for (let j = column; j >= 0; j = from[j]) rowOf[j] = from[j] >= 0 ? rowOf[from[j]] : start;
  }
  return columns.flatMap((_, j) => (rowOf[j] >= 0 && pairAt[rowOf[j]][j] >= 0 ? [pairAt[rowOf[j]][j]] : []));
}
