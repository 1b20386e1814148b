/** Accuracy of positions against independent checkpoints: differences to them, metres. */
export interface PositionalAccuracy {
  readonly checkpoints: number;
  readonly rmseEastM: number;
  readonly rmseNorthM: number;
  readonly rmseUpM: number;
  /** √(RMSE_E² + RMSE_N²), with the checkpoints' own survey error in quadrature. */
  readonly rmseHorizontalM: number;
  readonly rmseVerticalM: number;
  /** √(RMSE_H² + RMSE_V²). */
  readonly rmse3dM: number;
  /** Older statement at 95 %: 1.7308 RMSE_r, or 2.4477 times the mean of the two where they differ (ratio 0.6 to 1). */
  readonly nssdaHorizontal95M: number | null;
  readonly nssdaVertical95M: number;
  /** Why the figures should not be quoted as a tested accuracy; empty where they may. */
  readonly cautions: readonly string[];
}

/** Fewest checkpoints for a tested accuracy: ASPRS 2023 asks for 30 (20 until then). */
const FEWEST_CHECKPOINTS = 30;

/**
 * ASPRS Positional Accuracy Standards, edition 2 (2023), and NSSDA, FGDC-STD-007.3-1998 (both from memory).
 * @param differencesEnuM   measured minus checkpoint, E, N, U
 * @param checkpointSigmaM  the checkpoints' own survey error, one horizontal figure (radial) and one vertical
 */
export function positionalAccuracy(
  differencesEnuM: readonly (readonly [number, number, number])[],
  checkpointSigmaM: { readonly horizontal: number; readonly vertical: number } = { horizontal: 0, vertical: 0 },
): PositionalAccuracy {
  const n = differencesEnuM.length;
  if (n === 0) throw new RangeError('positionalAccuracy: no checkpoint');
  const rmse = (axis: 0 | 1 | 2): number => Math.sqrt(differencesEnuM.reduce((sum, d) => sum + d[axis] ** 2, 0) / n);
  const [east, north, up] = [rmse(0), rmse(1), rmse(2)];
  const horizontal = Math.hypot(east, north, checkpointSigmaM.horizontal);
  const vertical = Math.hypot(up, checkpointSigmaM.vertical);
  const ratio = Math.min(east, north) / Math.max(east, north);
  return {
    checkpoints: n,
    rmseEastM: east,
    rmseNorthM: north,
    rmseUpM: up,
    rmseHorizontalM: horizontal,
    rmseVerticalM: vertical,
    rmse3dM: Math.hypot(horizontal, vertical),
    nssdaHorizontal95M:
      ratio > 0.999 ? 1.7308 * Math.hypot(east, north) : ratio >= 0.6 ? (2.4477 * (east + north)) / 2 : null,
    nssdaVertical95M: 1.96 * up,
    cautions: n < FEWEST_CHECKPOINTS ? [`${n} checkpoints; ${FEWEST_CHECKPOINTS} are asked for`] : [],
  };
}
