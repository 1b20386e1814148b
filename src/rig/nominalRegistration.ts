import { createHash } from 'node:crypto';
import { idealLens, type Lens } from '../camera/Lens.ts';
import { uvPx } from '../camera/pixel.ts';
import { IDENTITY3 } from '../maths/mat3.ts';
import { crossMatrix } from '../maths/rotation.ts';
import { scale } from '../maths/vec3.ts';
import type { RigDescription } from '../recording/RigDescription.ts';
import { colourFromUv } from './colourFromUv.ts';
import { type Registration, TWO_CAMERA_PARAMETER_COUNT } from './Registration.ts';

/**
 * What a lens of which only the focal length is known may do, 1 sigma: the principal point within 1 % of the image
 * width of its middle, and the distortion of an ordinary lens of narrow field. Ours, from the makers' usual tolerances.
 */
export const UNKNOWN_LENS = { principalPointShare: 0.01, distortion: [0.1, 0.1, 1e-3, 1e-3, 0.1] } as const;

export function nominalLens(camera: {
  widthPx: number;
  heightPx: number;
  focalMm: number;
  pixelPitchUm: number;
}): Lens {
  return idealLens(camera.widthPx, camera.heightPx, (1000 * camera.focalMm) / camera.pixelPitchUm);
}

/**
 * A registration from `rig.json` alone, for a rig that no bench run has seen: lenses without distortion, cameras
 * parallel at the nominal baseline. Its covariance holds all that is then not known, tens of pixels as a rule, and no
 * pixel of it is supported.
 */
export function nominalRegistration(rig: RigDescription): Registration {
  const { uv, colour } = rig.cameras;
  const n = TWO_CAMERA_PARAMETER_COUNT;
  const covariance = new Float64Array(n * n);
  const put = (i: number, sigma: number): void => {
    covariance[i * n + i] = sigma * sigma;
  };
  [uv, colour].forEach((camera, index) => {
    const at = 9 * index;
    const focalSigmaPx = (1000 * camera.focalSigmaMm) / camera.pixelPitchUm;
    // Square pixels: one focal length, so fx and fy err together.
    for (const i of [0, 1]) for (const j of [0, 1]) covariance[(at + i) * n + at + j] = focalSigmaPx ** 2;
    put(at + 2, UNKNOWN_LENS.principalPointShare * camera.widthPx);
    put(at + 3, UNKNOWN_LENS.principalPointShare * camera.widthPx);
    UNKNOWN_LENS.distortion.forEach((sigma, i) => {
      put(at + 4 + i, sigma);
    });
  });
  const translation = scale(rig.pair.colourInUvM, -1);
  const turnVariance = ((rig.pair.rotationSigmaDeg * Math.PI) / 180) ** 2;
  // The camera's position is what is known; t = -R c turns with R: dt = -[t]x dphi.
  const turns = crossMatrix(scale(translation, -1));
  for (let i = 0; i < 3; i++) {
    put(18 + i, Math.sqrt(turnVariance));
    for (let j = 0; j < 3; j++) {
      covariance[(21 + i) * n + 18 + j] = turns[3 * i + j] * turnVariance;
      covariance[(18 + j) * n + 21 + i] = turns[3 * i + j] * turnVariance;
      let sum = i === j ? rig.pair.sigmaM ** 2 : 0;
      for (let k = 0; k < 3; k++) sum += turns[3 * i + k] * turns[3 * j + k] * turnVariance;
      covariance[(21 + i) * n + 21 + j] = sum;
    }
  }
  const registration: Registration = {
    model: {
      kind: 'two-camera',
      uv: nominalLens(uv),
      colour: nominalLens(colour),
      colourFromUv: { rotation: IDENTITY3, translation },
      residualField: [],
    },
    covariance,
    support: { uvHullPx: [], nearestM: 0, farthestM: 0 },
    heldOutRmsPx: 0,
    hash: createHash('sha256').update(JSON.stringify(rig)).digest('hex'),
  };
  // Nothing was held out; what the tolerances allow in the middle of the image stands in its place.
  const middle = colourFromUv(registration, uvPx((uv.widthPx - 1) / 2, (uv.heightPx - 1) / 2), 0.025);
  const expected = middle.kind === 'mapped' ? Math.sqrt((middle.covariancePx2[0] + middle.covariancePx2[3]) / 2) : 0;
  return { ...registration, heldOutRmsPx: expected };
}
