import { type RigidTransform, transformPoint } from '../maths/rigidTransform.ts';
import { huber } from '../maths/robustLoss.ts';
import { norm } from '../maths/vec3.ts';
import type { RigDescription } from '../recording/RigDescription.ts';
import type { BenchFrame, BenchRun } from './BenchObservations.ts';
import type { Correspondence } from './Correspondence.ts';
import { colourPxFromUv } from './colourFromUv.ts';
import { fitTwoLinear } from './fitTwoLinear.ts';
import { applyPlaneModel, fitPlaneModel, PLANE_KINDS, type PlaneKind, type PlanePair } from './planeModels.ts';
import { MODEL_KINDS, type ModelKind, type PlaneModel, type TwoCameraModel } from './Registration.ts';
import { fieldScale, polynomialTerms, RESIDUAL_FIELD_LENGTH, residualFieldPx } from './residualField.ts';
import { adjustRig, type RigState, resectFrames, type SigmaFactors } from './rigBundle.ts';

/** One rung of the ladder as the certificate shows it; RMS of the two-dimensional distance, colour px. */
export interface LadderRow {
  readonly kind: ModelKind;
  readonly parameters: number;
  readonly inSampleRmsPx: number | null;
  /** Whole sweeps left out in turn (blocks of time where there is one sweep alone). */
  readonly heldOutRmsPx: number | null;
  /** Standard error of that figure, from the scatter between the parts left out. */
  readonly heldOutStandardErrorPx: number | null;
  /** Fitted to each sweep alone and tried on blocks of the same sweep left out: what it can do at its own range. */
  readonly ownRangeHeldOutRmsPx: number | null;
}

export interface Ladder {
  readonly rows: readonly LadderRow[];
  /** The simplest model within one standard error of the best. */
  readonly chosen: ModelKind;
  readonly foldedBy: 'sweeps' | 'blocks of time';
  /** Held-out residual [du, dv] of the two-camera model at every correspondence, in the order given; NaN where none. */
  readonly heldOutPx: Float64Array;
  readonly planeModels: readonly PlaneModel[];
  readonly residualField: readonly number[];
}

const LOSS = huber(2.5);
const BLOCKS = 5;

/**
 * Fits every rung, in sample and held out.
 * Source of the one-standard-error rule: Breiman, Friedman, Olshen & Stone, Classification and Regression Trees,
 * 1984, 3.4.3 (from memory).
 */
export function climbLadder(
  rig: RigDescription,
  run: BenchRun,
  frames: readonly BenchFrame[],
  poses: ReadonlyMap<BenchFrame, RigidTransform>,
  state: RigState,
  factors: SigmaFactors,
  correspondences: readonly Correspondence[],
): Ladder {
  const sweeps = [...new Set(frames.map((f) => f.sweep))];
  const bySweep = sweeps.length > 1;
  const foldOf = bySweep ? new Map(frames.map((f) => [f, sweeps.indexOf(f.sweep)])) : blocksOfTime(frames);
  const foldCount = bySweep ? sweeps.length : BLOCKS;
  const scale = fieldScale(state.uv);
  const folds = correspondences.map((c) => foldOf.get(c.frame)!);

  const rows: LadderRow[] = [];
  const squaresOf = new Map<ModelKind, (number | null)[]>();
  const planeModels: PlaneModel[] = [];
  for (const kind of PLANE_KINDS) {
    const whole = fitPlaneModel(kind, correspondences.map(asPair), scale, LOSS);
    if (whole) planeModels.push(whole);
    const squares = heldOutSquares(kind, correspondences, folds, foldCount, scale);
    const { rmsPx, standardErrorPx } = foldStatistics(squares, folds, foldCount);
    squaresOf.set(kind, squares);
    rows.push({
      kind,
      parameters: whole?.coefficients.length ?? 0,
      inSampleRmsPx: whole && rootMean(correspondences.map((c) => planeSquare(whole, c))),
      heldOutRmsPx: rmsPx,
      heldOutStandardErrorPx: standardErrorPx,
      ownRangeHeldOutRmsPx: ownRange(kind, sweeps, frames, correspondences, scale),
    });
  }

  const heldOutPx = new Float64Array(2 * correspondences.length).fill(Number.NaN);
  const fieldSquares: (number | null)[] = correspondences.map(() => null);
  for (let fold = 0; fold < foldCount; fold++) {
    const training = frames.filter((f) => foldOf.get(f) !== fold);
    const left = frames.filter((f) => foldOf.get(f) === fold);
    const fit = adjustRig(rig, run, training, poses, state, factors);
    if (fit.kind === 'refused' || left.length === 0) continue;
    const [uv, colour] = fit.lenses;
    const trained: RigState = { uv, colour, colourFromUv: fit.secondFromFirst!, targetPointsM: fit.targetPointsM };
    const resected = resectFrames(run, left, poses, trained, factors);
    if (!resected) continue;
    const trainedPoses = new Map(training.map((f, i) => [f, fit.camFromTarget[i]]));
    left.forEach((f, i) => {
      trainedPoses.set(f, resected[i]);
    });
    const model: TwoCameraModel = {
      kind: 'two-camera',
      uv,
      colour,
      colourFromUv: trained.colourFromUv,
      residualField: [],
    };
    const inTraining = correspondences.filter((c, i) => folds[i] !== fold && c !== null);
    const field = fitResidualField(model, inTraining);
    correspondences.forEach((c, i) => {
      if (folds[i] !== fold) return;
      const lamp = transformPoint(trainedPoses.get(c.frame)!, trained.targetPointsM[c.mark]);
      const px = colourPxFromUv(model, c.uv[0], c.uv[1], 1 / norm(lamp));
      if (!px) return;
      heldOutPx[2 * i] = c.colour[0] - px[0];
      heldOutPx[2 * i + 1] = c.colour[1] - px[1];
      const [fu, fv] = residualFieldPx(field, uv, c.uv[0], c.uv[1]);
      fieldSquares[i] = (heldOutPx[2 * i] - fu) ** 2 + (heldOutPx[2 * i + 1] - fv) ** 2;
    });
  }
  const twoSquares = correspondences.map((_, i) =>
    Number.isNaN(heldOutPx[2 * i]) ? null : heldOutPx[2 * i] ** 2 + heldOutPx[2 * i + 1] ** 2,
  );
  const whole: TwoCameraModel = {
    kind: 'two-camera',
    uv: state.uv,
    colour: state.colour,
    colourFromUv: state.colourFromUv,
    residualField: [],
  };
  const residualField = fitResidualField(whole, correspondences);
  for (const [kind, squares, field, parameters] of [
    ['two-camera', twoSquares, [] as number[], 24],
    ['two-camera with residual field', fieldSquares, residualField, 24 + residualField.length],
  ] as const) {
    squaresOf.set(kind, [...squares]);
    const { rmsPx, standardErrorPx } = foldStatistics(squares, folds, foldCount);
    rows.push({
      kind,
      parameters,
      inSampleRmsPx: rootMean(correspondences.map((c) => twoCameraSquare({ ...whole, residualField: field }, c))),
      heldOutRmsPx: rmsPx,
      heldOutStandardErrorPx: standardErrorPx,
      ownRangeHeldOutRmsPx: null,
    });
  }
  return {
    rows,
    chosen: oneStandardError(rows, squaresOf, folds, foldCount),
    foldedBy: bySweep ? 'sweeps' : 'blocks of time',
    heldOutPx,
    planeModels,
    residualField,
  };
}

const asPair = (c: Correspondence): PlanePair => ({ uv: c.uv, colour: c.colour, sigmaPx: c.sigmaPx });

function blocksOfTime(frames: readonly BenchFrame[]): Map<BenchFrame, number> {
  const ordered = [...frames].sort((a, b) => a.tNs - b.tNs);
  return new Map(ordered.map((f, i) => [f, Math.floor((i * BLOCKS) / ordered.length)]));
}

const planeSquare = (model: PlaneModel, c: Correspondence): number | null => {
  const [u, v] = applyPlaneModel(model, c.uv[0], c.uv[1]);
  return Number.isFinite(u) ? (c.colour[0] - u) ** 2 + (c.colour[1] - v) ** 2 : null;
};

const twoCameraSquare = (model: TwoCameraModel, c: Correspondence): number | null => {
  const px = colourPxFromUv(model, c.uv[0], c.uv[1], c.inverseRangePerM);
  return px && (c.colour[0] - px[0]) ** 2 + (c.colour[1] - px[1]) ** 2;
};

function rootMean(squares: readonly (number | null)[]): number | null {
  const known = squares.filter((s) => s !== null);
  return known.length === 0 ? null : Math.sqrt(known.reduce((a, b) => a + b, 0) / known.length);
}

function heldOutSquares(
  kind: PlaneKind,
  correspondences: readonly Correspondence[],
  folds: readonly number[],
  foldCount: number,
  scale: PlaneModel['scale'],
): (number | null)[] {
  const squares: (number | null)[] = correspondences.map(() => null);
  for (let fold = 0; fold < foldCount; fold++) {
    const model = fitPlaneModel(kind, correspondences.filter((_, i) => folds[i] !== fold).map(asPair), scale, LOSS);
    if (!model) continue;
    correspondences.forEach((c, i) => {
      if (folds[i] === fold) squares[i] = planeSquare(model, c);
    });
  }
  return squares;
}

function ownRange(
  kind: PlaneKind,
  sweeps: readonly number[],
  frames: readonly BenchFrame[],
  correspondences: readonly Correspondence[],
  scale: PlaneModel['scale'],
): number | null {
  const all: (number | null)[] = [];
  for (const sweep of sweeps) {
    const block = blocksOfTime(frames.filter((f) => f.sweep === sweep));
    const own = correspondences.filter((c) => c.frame.sweep === sweep);
    all.push(
      ...heldOutSquares(
        kind,
        own,
        own.map((c) => block.get(c.frame)!),
        BLOCKS,
        scale,
      ),
    );
  }
  return rootMean(all);
}

/** RMS over all, and its standard error from the scatter of the parts' mean squares. */
function foldStatistics(
  squares: readonly (number | null)[],
  folds: readonly number[],
  foldCount: number,
): { rmsPx: number | null; standardErrorPx: number | null } {
  const rmsPx = rootMean(squares);
  const means: number[] = [];
  for (let fold = 0; fold < foldCount; fold++) {
    const rms = rootMean(squares.filter((_, i) => folds[i] === fold));
    if (rms !== null) means.push(rms * rms);
  }
  if (rmsPx === null || means.length < 2) return { rmsPx, standardErrorPx: null };
  const mean = means.reduce((a, b) => a + b, 0) / means.length;
  const variance = means.reduce((a, b) => a + (b - mean) ** 2, 0) / (means.length - 1) / means.length;
  return { rmsPx, standardErrorPx: Math.sqrt(variance) / (2 * rmsPx) };
}

/**
 * The standard error is that of the *difference* to the best model, part by part: sweeps differ among themselves (by
 * their range, above all) far more than good models do on one sweep.
 */
function oneStandardError(
  rows: readonly LadderRow[],
  squaresOf: ReadonlyMap<ModelKind, readonly (number | null)[]>,
  folds: readonly number[],
  foldCount: number,
): ModelKind {
  const known = rows.filter((r) => r.heldOutRmsPx !== null);
  if (known.length === 0) return 'two-camera';
  const best = known.reduce((a, b) => (b.heldOutRmsPx! < a.heldOutRmsPx! ? b : a));
  const bestSquares = squaresOf.get(best.kind)!;
  for (const kind of MODEL_KINDS) {
    const row = known.find((r) => r.kind === kind);
    if (!row) continue;
    const squares = squaresOf.get(kind)!;
    const differences: number[] = [];
    for (let fold = 0; fold < foldCount; fold++) {
      const a = rootMean(squares.filter((_, i) => folds[i] === fold));
      const b = rootMean(bestSquares.filter((_, i) => folds[i] === fold));
      if (a !== null && b !== null) differences.push(a * a - b * b);
    }
    const mean = differences.reduce((a, b) => a + b, 0) / differences.length;
    const variance =
      differences.reduce((a, b) => a + (b - mean) ** 2, 0) / Math.max(1, differences.length - 1) / differences.length;
    if (mean <= Math.sqrt(variance)) return kind;
  }
  return best.kind;
}

/** A smooth correction of degree 3 for what both lenses leave, fitted to the residuals; empty where it is not determined. */
export function fitResidualField(model: TwoCameraModel, correspondences: readonly Correspondence[]): number[] {
  const { centrePx, halfWidthPx } = fieldScale(model.uv);
  const terms: number[] = [];
  const values: number[] = [];
  const inverseSigma: number[] = [];
  for (const { uv, colour, inverseRangePerM, sigmaPx } of correspondences) {
    const px = colourPxFromUv(model, uv[0], uv[1], inverseRangePerM);
    if (!px) continue;
    terms.push(...polynomialTerms((uv[0] - centrePx[0]) / halfWidthPx, (uv[1] - centrePx[1]) / halfWidthPx, 3));
    values.push(colour[0] - px[0], colour[1] - px[1]);
    inverseSigma.push(1 / sigmaPx);
  }
  if (inverseSigma.length < 30) return [];
  const field = fitTwoLinear(
    {
      terms: Float64Array.from(terms),
      termCount: RESIDUAL_FIELD_LENGTH / 2,
      values: Float64Array.from(values),
      inverseSigma: Float64Array.from(inverseSigma),
    },
    LOSS,
  );
  return field ? Array.from(field) : [];
}
