import type { Lens } from '../camera/Lens.ts';
import { InputError } from '../input/InputError.ts';
import type { Mat3 } from '../maths/mat3.ts';
import { type Registration, TWO_CAMERA_PARAMETER_COUNT, type TwoCameraModel } from './Registration.ts';

/**
 * Both lenses and the relative pose from the YAML of OpenCV's FileStorage, under the names of `openCvYaml` (those of
 * OpenCV's stereo samples: M1, D1, M2, D2, R, T, and the sizes of the images); T in metres.
 * @throws InputError for a matrix that is missing or of another shape, for skewed axes, for lens terms beyond the five of
 *   Brown-Conrady that are not zero, and for a rotation that is none
 */
export function readOpenCvYaml(text: string, file: string): TwoCameraModel {
  const matrix = (name: string, sizes: readonly number[]): number[] => {
    // Values may go over several lines; FileStorage writes "1." and ".5".
    const found = new RegExp(
      `^${name}: !!opencv-matrix\\s+rows: (\\d+)\\s+cols: (\\d+)\\s+dt: \\w+\\s+data: \\[([^\\]]*)\\]`,
      'm',
    ).exec(text);
    const values = found ? found[3].split(',').map((word) => (word.trim() === '' ? Number.NaN : Number(word))) : [];
    if (found && Number(found[1]) * Number(found[2]) === values.length && sizes.includes(values.length)) {
      if (values.every(Number.isFinite)) return values;
    }
    throw new InputError({
      file,
      field: name,
      found: found
        ? `${found[1]} x ${found[2]} with ${values.filter(Number.isFinite).length} numbers`
        : 'no such matrix',
      expected: `a matrix of ${sizes.join(' or ')} numbers`,
      todo: 'Write M1, D1, M2, D2, R and T with cv::FileStorage, camera 1 the ultraviolet one.',
    });
  };
  const size = (name: string): number => {
    const found = new RegExp(`^${name}: (\\d+)\\s*$`, 'm').exec(text);
    if (found) return Number(found[1]);
    throw new InputError({
      file,
      field: name,
      found: 'no such number',
      expected: 'the size of the image in pixels',
      todo: 'Write image_width1, image_height1, image_width2 and image_height2 into the file.',
    });
  };
  const lens = (camera: 1 | 2): Lens => {
    const m = matrix(`M${camera}`, [9]);
    const d = matrix(`D${camera}`, [4, 5, 8, 12, 14]);
    if (m[1] !== 0 || m[3] !== 0 || m[6] !== 0 || m[7] !== 0 || m[8] !== 1 || !(m[0] > 0) || !(m[4] > 0))
      throw new InputError({
        file,
        field: `M${camera}`,
        found: m.join(' '),
        expected: 'fx 0 cx 0 fy cy 0 0 1',
        todo: 'Give the camera matrix that calibrateCamera returns.',
      });
    const beyond = d.slice(5).find((k) => k !== 0);
    if (beyond !== undefined)
      throw new InputError({
        file,
        field: `D${camera}`,
        found: `${d.length} distortion coefficients, ${beyond} among those after the fifth`,
        expected: 'k1, k2, p1, p2 and k3 alone',
        todo: 'Calibrate without the rational, thin prism and tilted models.',
      });
    const [k1, k2, p1, p2, k3 = 0] = d;
    return {
      widthPx: size(`image_width${camera}`),
      heightPx: size(`image_height${camera}`),
      fxPx: m[0],
      fyPx: m[4],
      cxPx: m[2],
      cyPx: m[5],
      k1,
      k2,
      p1,
      p2,
      k3,
    };
  };
  const uv = lens(1);
  const colour = lens(2);
  const r = matrix('R', [9]);
  const [x, y, z] = matrix('T', [3]);
  for (let i = 0; i < 3; i++)
    for (let j = 0; j <= i; j++) {
      const product = r[3 * i] * r[3 * j] + r[3 * i + 1] * r[3 * j + 1] + r[3 * i + 2] * r[3 * j + 2];
      if (Math.abs(product - (i === j ? 1 : 0)) < 1e-6) continue;
      throw new InputError({
        file,
        field: 'R',
        found: `rows ${i} and ${j} with the product ${product}`,
        expected: 'an orthonormal matrix',
        todo: 'Give the R that stereoCalibrate returns, as a matrix, not as a vector.',
      });
    }
  return {
    kind: 'two-camera',
    uv,
    colour,
    colourFromUv: { rotation: r as unknown as Mat3, translation: [x, y, z] },
    residualField: [],
  };
}

/**
 * A mapping made elsewhere as a registration to be verified: it claims the whole image at every range, and no errors, as
 * the file tells none.
 */
export function registrationFromOpenCv(model: TwoCameraModel, hash: string): Registration {
  const [right, bottom] = [model.uv.widthPx - 1, model.uv.heightPx - 1];
  return {
    model,
    covariance: new Float64Array(TWO_CAMERA_PARAMETER_COUNT ** 2),
    support: {
      uvHullPx: [
        [0, 0],
        [right, 0],
        [right, bottom],
        [0, bottom],
      ],
      nearestM: 0.01,
      farthestM: 1e9,
    },
    heldOutRmsPx: 0,
    hash,
  };
}
