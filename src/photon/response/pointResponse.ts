import type { Lens } from '../../camera/Lens.ts';
import { rayFromPixel } from '../../camera/rayFromPixel.ts';
import { cross, norm, subtract } from '../../maths/vec3.ts';
import { type FlatField, surfaceTerms } from './flatField.ts';

/** What the camera makes of a point of light, place by place in its picture. */
export interface PointResponse {
  /** Response at a pixel, 1 in the mean over the picture. */
  at(uPx: number, vPx: number): number;
  /** Relative standard deviation of the mean response over places, from the counts of the flat field and the form of its surface. */
  relativeSigma(placesPx: readonly (readonly [number, number])[]): number;
  readonly least: number;
  readonly greatest: number;
}

const CELLS = 48;
/** What a camera keeps of an unevenness that is not of the form of the surface; measured, docs/accuracy/response.md. */
const FORM_RELATIVE_SIGMA = 0.01;

/**
 * Even light is equally bright from every direction, so that a pixel gets of it as much as it sees of the sphere: less towards the
 * rim of most pictures. A point of light is seen by one pixel whole. So its response is that to even light over the solid angle of
 * the pixel, which the lens tells.
 * Between the nodes of a grid of 49 x 49, bilinear: to 1e-3 of itself where it falls to a third over the picture.
 */
export function pointResponse({ coefficients, covariance }: FlatField, lens: Lens): PointResponse {
  const { widthPx, heightPx } = lens;
  const side = CELLS + 1;
  const pixelAt = (i: number, j: number): readonly [number, number] => [
    (i / CELLS) * widthPx - 0.5,
    (j / CELLS) * heightPx - 0.5,
  ];
  const nodes = new Float64Array(side * side);
  const meanTerms = [0, 0, 0, 0, 0];
  let sum = 0;
  let weights = 0;
  for (let j = 0; j < side; j++)
    for (let i = 0; i < side; i++) {
      const terms = surfaceTerms((2 * i) / CELLS - 1, (2 * j) / CELLS - 1);
      const flat = Math.exp(terms.reduce((total, term, k) => total + coefficients[k] * term, 0));
      const response = flat / solidAngle(lens, pixelAt(i, j));
      nodes[j * side + i] = response;
      // Trapezoidal rule: a node on the border stands for half a cell.
      const weight = (i % CELLS === 0 ? 0.5 : 1) * (j % CELLS === 0 ? 0.5 : 1);
      sum += weight * response;
      weights += weight;
      terms.forEach((term, k) => {
        meanTerms[k] += weight * response * term;
      });
    }
  for (let k = 0; k < 5; k++) meanTerms[k] /= sum;
  for (let n = 0; n < nodes.length; n++) nodes[n] *= weights / sum;

  return {
    at(uPx, vPx) {
      const x = Math.max(0, Math.min(CELLS, ((uPx + 0.5) / widthPx) * CELLS));
      const y = Math.max(0, Math.min(CELLS, ((vPx + 0.5) / heightPx) * CELLS));
      const i = Math.min(CELLS - 1, Math.floor(x));
      const j = Math.min(CELLS - 1, Math.floor(y));
      const [a, b] = [x - i, y - j];
      const n = j * side + i;
      return (
        (1 - b) * ((1 - a) * nodes[n] + a * nodes[n + 1]) + b * ((1 - a) * nodes[n + side] + a * nodes[n + side + 1])
      );
    },
    relativeSigma(placesPx) {
      // d ln(response) / d coefficients is the terms there less their mean over the picture; shared by all places.
      const slope = [0, 0, 0, 0, 0];
      for (const [u, v] of placesPx)
        surfaceTerms((2 * (u + 0.5)) / widthPx - 1, (2 * (v + 0.5)) / heightPx - 1).forEach((term, k) => {
          slope[k] += (term - meanTerms[k]) / placesPx.length;
        });
      let variance = 0;
      for (let k = 0; k < 5; k++) for (let l = 0; l < 5; l++) variance += slope[k] * covariance[5 * k + l] * slope[l];
      return Math.hypot(Math.sqrt(variance), FORM_RELATIVE_SIGMA);
    },
    least: nodes.reduce((least, x) => Math.min(least, x)),
    greatest: nodes.reduce((most, x) => Math.max(most, x)),
  };
}

/** How much of the sphere a pixel sees, steradian: the parallelogram of its edges' directions, on the unit sphere. */
function solidAngle(lens: Lens, [u, v]: readonly [number, number]): number {
  const corner = (du: number, dv: number) => rayFromPixel([u + du, v + dv], lens);
  const [left, right, up, down] = [corner(-0.5, 0), corner(0.5, 0), corner(0, -0.5), corner(0, 0.5)];
  if (!left || !right || !up || !down)
    throw new RangeError('pointResponse: the lens folds within the picture, so a pixel there has no direction');
  return norm(cross(subtract(right, left), subtract(down, up)));
}
