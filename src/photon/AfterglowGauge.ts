import type { DarkModel } from './DarkModel.ts';
import { EVENT_FLAGS } from './PhotonEvents.ts';
import type { EventShape } from './readRegion.ts';
import { bellInto } from './SpotWindow.ts';

/** With fewer spots than this the share is taken as nought. */
const FEWEST = 100;
/** A spot with a neighbour nearer than this many radii says nothing clear. */
const ALONE_RADII = 6;

/**
 * Measures which share of its light a spot gives off again in the next frame: the signal left at the places of single spots of the
 * frame before, through the spot's own shape, by least squares against their charges. Most afterglow lies below the threshold of
 * events, so that it can only be seen in the sum over many.
 */
export class AfterglowGauge {
  readonly #spotSigmaPx: number;
  readonly #widthPx: number;
  readonly #heightPx: number;
  readonly #reachPx: number;
  readonly #across: Float64Array;
  readonly #down: Float64Array;
  #before: { readonly xPx: number; readonly yPx: number; readonly charge: number }[] = [];
  #spots = 0;
  #signalByCharge = 0;
  #chargeSquared = 0;

  constructor(spotSigmaPx: number, widthPx: number, heightPx: number) {
    this.#spotSigmaPx = spotSigmaPx;
    this.#widthPx = widthPx;
    this.#heightPx = heightPx;
    this.#reachPx = Math.ceil(2.5 * spotSigmaPx);
    this.#across = new Float64Array(2 * this.#reachPx + 1);
    this.#down = new Float64Array(2 * this.#reachPx + 1);
  }

  /** Takes the next frame with its events, their flags set. */
  add(
    data: Uint8Array | Uint16Array,
    dark: DarkModel,
    levelDn: number,
    events: readonly EventShape[],
    meanCharge: number,
  ): void {
    const alone = ALONE_RADII * this.#spotSigmaPx;
    const near = (a: { xPx: number; yPx: number }, b: { xPx: number; yPx: number }): boolean =>
      Math.abs(a.xPx - b.xPx) < alone && Math.abs(a.yPx - b.yPx) < alone;
    for (const spot of this.#before) {
      if (events.some((event) => (event.flags & EVENT_FLAGS.afterglow) === 0 && near(event, spot))) continue;
      this.#signalByCharge += this.#signalAt(data, dark, levelDn, spot.xPx, spot.yPx) * spot.charge;
      this.#chargeSquared += spot.charge * spot.charge;
      this.#spots++;
    }
    const rim = this.#reachPx + 1;
    this.#before = events
      .filter(
        (event, i) =>
          event.flags === 0 &&
          event.charge > 0.5 * meanCharge &&
          event.xPx > rim &&
          event.yPx > rim &&
          event.xPx < this.#widthPx - 1 - rim &&
          event.yPx < this.#heightPx - 1 - rim &&
          !events.some((other, j) => j !== i && near(other, event)),
      )
      .map(({ xPx, yPx, charge }) => ({ xPx, yPx, charge }));
  }

  /** Charge of a spot of the usual size at a place, by least squares. */
  #signalAt(data: Uint8Array | Uint16Array, dark: DarkModel, levelDn: number, xPx: number, yPx: number): number {
    const s2 = this.#spotSigmaPx * this.#spotSigmaPx + 1 / 12;
    const side = 2 * this.#reachPx + 1;
    const left = Math.round(xPx) - this.#reachPx;
    const top = Math.round(yPx) - this.#reachPx;
    const [across, down] = [this.#across, this.#down];
    bellInto(across, side, left - xPx, s2);
    bellInto(down, side, top - yPx, s2);
    let gs = 0;
    let gg = 0;
    for (let row = 0; row < side; row++)
      for (let column = 0, i = (top + row) * this.#widthPx + left; column < side; column++, i++) {
        const g = down[row] * across[column];
        gs += g * (data[i] - dark.meanDn[i] - levelDn);
        gg += g * g;
      }
    return (2 * Math.PI * s2 * gs) / gg;
  }

  get share(): number {
    return this.#spots < FEWEST ? 0 : Math.max(0, this.#signalByCharge / this.#chargeSquared);
  }

  state(): readonly unknown[] {
    return [this.#before, this.#spots, this.#signalByCharge, this.#chargeSquared];
  }

  resume(state: readonly unknown[]): void {
    [this.#before, this.#spots, this.#signalByCharge, this.#chargeSquared] = state as [
      { xPx: number; yPx: number; charge: number }[],
      number,
      number,
      number,
    ];
  }
}
