import type { Lens } from '../camera/Lens.ts';
import type { TwoCameraModel } from './Registration.ts';

/**
 * Both lenses and the relative pose in the YAML that OpenCV's FileStorage reads, under the names its stereo samples use:
 * camera 1 is the ultraviolet one, X2 = R X1 + T, T in metres. A residual field has no place there and is left out.
 */
export function openCvYaml(model: TwoCameraModel): string {
  const { rotation, translation } = model.colourFromUv;
  return [
    '%YAML:1.0',
    '---',
    `image_width1: ${model.uv.widthPx}`,
    `image_height1: ${model.uv.heightPx}`,
    ...matrix('M1', 3, 3, cameraMatrix(model.uv)),
    ...matrix('D1', 1, 5, distortion(model.uv)),
    `image_width2: ${model.colour.widthPx}`,
    `image_height2: ${model.colour.heightPx}`,
    ...matrix('M2', 3, 3, cameraMatrix(model.colour)),
    ...matrix('D2', 1, 5, distortion(model.colour)),
    ...matrix('R', 3, 3, rotation),
    ...matrix('T', 3, 1, translation),
    '',
  ].join('\n');
}

const cameraMatrix = (l: Lens): number[] => [l.fxPx, 0, l.cxPx, 0, l.fyPx, l.cyPx, 0, 0, 1];
const distortion = (l: Lens): number[] => [l.k1, l.k2, l.p1, l.p2, l.k3];

function matrix(name: string, rows: number, columns: number, values: readonly number[]): string[] {
  // FileStorage takes a number without a point for an integer, and would refuse a matrix that mixes both.
  const text = values.map((v) => (Number.isInteger(v) ? `${v}.` : String(v)));
  return [
    `${name}: !!opencv-matrix`,
    `   rows: ${rows}`,
    `   cols: ${columns}`,
    '   dt: d',
    `   data: [ ${text.join(', ')} ]`,
  ];
}
