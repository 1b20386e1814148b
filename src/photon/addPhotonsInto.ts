import type { GreyFrame } from '../camera/GreyFrame.ts';
import { normalCdf } from '../maths/distributions.ts';
import type { Random } from '../maths/random.ts';
import type { UvCamera } from './UvCamera.ts';

/** A photon as the sensor shows it: a spot of the camera's size about a place. */
export interface PhotonSpot {
  readonly xPx: number;
  readonly yPx: number;
  /** Summed signal. */
  readonly chargeDn: number;
}

/** Farther out there is less than a hundred-thousandth of a spot. */
const REACH_SIGMAS = 4.5;

/**
 * Adds photons to a recorded frame: each a Gaussian integrated over the pixels, rounded up or down by chance so that faint wings keep their
 * sum, cut off where the sensor saturates. The frame's own noise serves; the photons' afterglow in the frame that follows is left out.
 */
export function addPhotonsInto(
  { widthPx, heightPx, data }: GreyFrame,
  spots: readonly PhotonSpot[],
  { spotSigmaPx, saturationLevel }: Pick<UvCamera, 'spotSigmaPx' | 'saturationLevel'>,
  random: Random,
): void {
  const reach = Math.ceil(REACH_SIGMAS * spotSigmaPx);
  const share = (pixel: number, at: number): number =>
    normalCdf((pixel + 0.5 - at) / spotSigmaPx) - normalCdf((pixel - 0.5 - at) / spotSigmaPx);
  for (const { xPx, yPx, chargeDn } of spots) {
    const [column, row] = [Math.round(xPx), Math.round(yPx)];
    for (let y = Math.max(0, row - reach); y <= Math.min(heightPx - 1, row + reach); y++) {
      const down = chargeDn * share(y, yPx);
      for (let x = Math.max(0, column - reach); x <= Math.min(widthPx - 1, column + reach); x++) {
        const i = y * widthPx + x;
        data[i] = Math.min(saturationLevel, data[i] + Math.floor(down * share(x, xPx) + random.uniform()));
      }
    }
  }
}
