import { CholeskyDecomposition, Matrix } from 'ml-matrix';

/** A step of the damped normal equations. */
export interface Step {
  readonly shared: Float64Array;
  /** Six for each block. */
  readonly blocks: Float64Array;
  /** Largest component in units of its conditional standard deviation. */
  readonly sizeInSigmas: number;
  /** Fall of the cost that the quadratic model promises. */
  readonly predicted: number;
}

const B = 6;

/**
 * Normal equations in which every observation involves the shared parameters and one block of six of its own:
 *   [ Hss  Hsb ] [ds]     [gs]
 *   [ Hbs  Hbb ] [db] = - [gb],   Hbb block diagonal.
 * The blocks are eliminated one by one, so the work grows with their number, not with its cube.
 */
export class NormalBlocks {
  readonly sharedCount: number;
  readonly blockCount: number;
  /** Upper triangle used, row by row. */
  readonly hss: Float64Array;
  readonly gs: Float64Array;
  /** For each block 6 x sharedCount. */
  readonly hbs: Float64Array;
  /** For each block 6 x 6, lower triangle used. */
  readonly hbb: Float64Array;
  readonly gb: Float64Array;

  constructor(sharedCount: number, blockCount: number) {
    this.sharedCount = sharedCount;
    this.blockCount = blockCount;
    this.hss = new Float64Array(sharedCount * sharedCount);
    this.gs = new Float64Array(sharedCount);
    this.hbs = new Float64Array(blockCount * B * sharedCount);
    this.hbb = new Float64Array(blockCount * B * B);
    this.gb = new Float64Array(blockCount * B);
  }

  clear(): void {
    this.hss.fill(0);
    this.gs.fill(0);
    this.hbs.fill(0);
    this.hbb.fill(0);
    this.gb.fill(0);
  }

  /**
   * Adds one whitened residual r with its derivatives: by `n` shared parameters (indices, values) and, where
   * `block` >= 0, by the block's six.
   */
  add(r: number, n: number, indices: Int32Array, values: Float64Array, block: number, byBlock: Float64Array): void {
    const S = this.sharedCount;
    for (let a = 0; a < n; a++) {
      const ja = values[a];
      if (ja === 0) continue;
      const ia = indices[a];
      this.gs[ia] += ja * r;
      for (let b = 0; b < n; b++) {
        const ib = indices[b];
        if (ib >= ia) this.hss[ia * S + ib] += ja * values[b];
      }
    }
    if (block < 0) return;
    const row = block * B;
    for (let a = 0; a < B; a++) {
      const ja = byBlock[a];
      this.gb[row + a] += ja * r;
      const bb = (row + a) * B;
      for (let b = 0; b <= a; b++) this.hbb[bb + b] += ja * byBlock[b];
      const bs = (row + a) * S;
      for (let b = 0; b < n; b++) this.hbs[bs + indices[b]] += ja * values[b];
    }
  }

  /**
   * Adds the two whitened residuals of an image point at once: `indices` of the shared parameters rise, and both rows have
   * them in common. The inner loop of every adjustment.
   */
  addPoint(
    ru: number,
    rv: number,
    n: number,
    indices: Int32Array,
    byU: Float64Array,
    byV: Float64Array,
    block: number,
    blockU: Float64Array,
    blockV: Float64Array,
  ): void {
    const S = this.sharedCount;
    const { hss, gs, hbs, hbb, gb } = this;
    for (let a = 0; a < n; a++) {
      const u = byU[a];
      const v = byV[a];
      const ia = indices[a];
      gs[ia] += u * ru + v * rv;
      const row = ia * S;
      for (let b = a; b < n; b++) hss[row + indices[b]] += u * byU[b] + v * byV[b];
    }
    const first = block * B;
    for (let a = 0; a < B; a++) {
      const u = blockU[a];
      const v = blockV[a];
      gb[first + a] += u * ru + v * rv;
      const bb = (first + a) * B;
      for (let b = 0; b <= a; b++) hbb[bb + b] += u * blockU[b] + v * blockV[b];
      const bs = (first + a) * S;
      for (let b = 0; b < n; b++) hbs[bs + indices[b]] += u * byU[b] + v * byV[b];
    }
  }

  /** The shared normal matrix with all blocks eliminated; null where a block is not determined. */
  reduced(damping: number, free: Uint8Array): Matrix | null {
    return this.eliminate(damping, free)?.matrix ?? null;
  }

  /** Inverse of one block, 6 x 6, the shared parameters held; null where it is singular. */
  blockInverse(block: number): Float64Array | null {
    const inverse = new Float64Array(B * B);
    const of = this.hbb.subarray(block * B * B, (block + 1) * B * B);
    return invertBlockInto(inverse, of, new InversionScratch()) ? inverse : null;
  }

  private eliminate(
    damping: number,
    free: Uint8Array,
  ): { matrix: Matrix; right: Float64Array; blockInverse: Float64Array } | null {
    const S = this.sharedCount;
    const { hbs, gb } = this;
    const upper = Float64Array.from(this.hss);
    for (let i = 0; i < S; i++) upper[i * S + i] *= 1 + damping;
    const right = Float64Array.from(this.gs);
    const blockInverse = new Float64Array(this.blockCount * B * B);
    const damped = new Float64Array(B * B);
    const scratch = new InversionScratch();
    // Of the columns of Hbs those that are free and not zero, six numbers each: w, and y = Hbb^-1 w.
    const touched = new Int32Array(S);
    const w = new Float64Array(B * S);
    const y = new Float64Array(B * S);
    for (let f = 0; f < this.blockCount; f++) {
      damped.set(this.hbb.subarray(f * B * B, (f + 1) * B * B));
      for (let i = 0; i < B; i++) damped[i * B + i] *= 1 + damping;
      const inverse = blockInverse.subarray(f * B * B, (f + 1) * B * B);
      if (!invertBlockInto(inverse, damped, scratch)) return null;
      let n = 0;
      for (let s = 0; s < S; s++) {
        if (!free[s]) continue;
        let isTouched = false;
        for (let a = 0; a < B; a++) {
          const h = hbs[(f * B + a) * S + s];
          w[n * B + a] = h;
          isTouched ||= h !== 0;
        }
        if (isTouched) touched[n++] = s;
      }
      for (let k = 0; k < n; k++)
        for (let a = 0; a < B; a++) {
          let sum = 0;
          for (let c = 0; c < B; c++) sum += inverse[a * B + c] * w[k * B + c];
          y[k * B + a] = sum;
          right[touched[k]] -= sum * gb[f * B + a];
        }
      // Hss -= Hsb y. The six products of a place at once: this loop is most of the work of an adjustment.
      for (let k = 0; k < n; k++) {
        const row = touched[k] * S;
        const at = k * B;
        const [w0, w1, w2] = [w[at], w[at + 1], w[at + 2]];
        const [w3, w4, w5] = [w[at + 3], w[at + 4], w[at + 5]];
        for (let m = k, j = at; m < n; m++, j += B)
          upper[row + touched[m]] -=
            w0 * y[j] + w1 * y[j + 1] + w2 * y[j + 2] + w3 * y[j + 3] + w4 * y[j + 4] + w5 * y[j + 5];
      }
    }
    const matrix = new Matrix(S, S);
    for (let i = 0; i < S; i++)
      for (let j = i; j < S; j++) {
        const value = free[i] && free[j] ? upper[i * S + j] : i === j ? 1 : 0;
        matrix.set(i, j, value);
        matrix.set(j, i, value);
      }
    for (let i = 0; i < S; i++) if (!free[i]) right[i] = 0;
    return { matrix, right, blockInverse };
  }

  /** The damped step, or null where the equations are singular. `free[i]` 0 holds a shared parameter. */
  solve(damping: number, free: Uint8Array): Step | null {
    const S = this.sharedCount;
    const eliminated = this.eliminate(damping, free);
    if (!eliminated) return null;
    const { matrix, right, blockInverse } = eliminated;
    const shared = solveScaled(matrix, right);
    if (!shared) return null;
    for (let i = 0; i < S; i++) shared[i] = -shared[i];
    const blocks = new Float64Array(this.blockCount * B);
    let sizeInSigmas = 0;
    let predicted = 0;
    for (let i = 0; i < S; i++) {
      const h = this.hss[i * S + i];
      sizeInSigmas = Math.max(sizeInSigmas, Math.abs(shared[i]) * Math.sqrt(h));
      predicted += shared[i] * (damping * h * shared[i] - this.gs[i]);
    }
    const rhs = new Float64Array(B);
    for (let f = 0; f < this.blockCount; f++) {
      for (let a = 0; a < B; a++) {
        let sum = this.gb[f * B + a];
        const w = (f * B + a) * S;
        for (let s = 0; s < S; s++) sum += this.hbs[w + s] * shared[s];
        rhs[a] = sum;
      }
      for (let a = 0; a < B; a++) {
        let sum = 0;
        for (let c = 0; c < B; c++) sum += blockInverse[(f * B + a) * B + c] * rhs[c];
        const d = -sum;
        blocks[f * B + a] = d;
        const h = this.hbb[(f * B + a) * B + a];
        sizeInSigmas = Math.max(sizeInSigmas, Math.abs(d) * Math.sqrt(h));
        predicted += d * (damping * h * d - this.gb[f * B + a]);
      }
    }
    return { shared, blocks, sizeInSigmas, predicted };
  }
}

/** Solves a symmetric positive definite system after scaling it to a unit diagonal; null where it is not one. */
function solveScaled(matrix: Matrix, right: Float64Array): Float64Array | null {
  const n = matrix.rows;
  const scale = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const d = matrix.get(i, i);
    if (!(d > 0)) return null;
    scale[i] = 1 / Math.sqrt(d);
  }
  const scaled = new Matrix(n, n);
  for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) scaled.set(i, j, matrix.get(i, j) * (scale[i] * scale[j]));
  const cholesky = new CholeskyDecomposition(scaled);
  if (!cholesky.isPositiveDefinite()) return null;
  const solution = cholesky.solve(Matrix.columnVector(Array.from(right, (x, i) => x * scale[i])));
  return Float64Array.from({ length: n }, (_, i) => solution.get(i, 0) * scale[i]);
}

class InversionScratch {
  readonly scale = new Float64Array(B);
  readonly l = new Float64Array(B * B);
  readonly column = new Float64Array(B);
}

/**
 * Inverse of a symmetric positive definite 6 x 6, given by its lower triangle, by Cholesky on its unit-diagonal scaling;
 * false where it is not one.
 */
function invertBlockInto(out: Float64Array, m: Float64Array, { scale, l, column }: InversionScratch): boolean {
  for (let i = 0; i < B; i++) {
    if (!(m[i * B + i] > 0)) return false;
    scale[i] = 1 / Math.sqrt(m[i * B + i]);
  }
  for (let i = 0; i < B; i++)
    for (let j = 0; j <= i; j++) {
      let sum = m[i * B + j] * scale[i] * scale[j];
      for (let k = 0; k < j; k++) sum -= l[i * B + k] * l[j * B + k];
      if (i === j) {
        if (!(sum > 1e-14)) return false;
        l[i * B + i] = Math.sqrt(sum);
      } else l[i * B + j] = sum / l[j * B + j];
    }
  for (let c = 0; c < B; c++) {
    for (let i = 0; i < B; i++) {
      let sum = i === c ? 1 : 0;
      for (let k = 0; k < i; k++) sum -= l[i * B + k] * column[k];
      column[i] = sum / l[i * B + i];
    }
    for (let i = B - 1; i >= 0; i--) {
      let sum = column[i];
      for (let k = i + 1; k < B; k++) sum -= l[k * B + i] * column[k];
      column[i] = sum / l[i * B + i];
    }
    for (let i = 0; i < B; i++) out[i * B + c] = column[i] * scale[i] * scale[c];
  }
  return true;
}
