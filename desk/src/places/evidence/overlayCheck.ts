import { colourPxFromUv } from '../../../../src/rig/colourFromUv.ts';
import type { LookUpTable } from '../../../../src/rig/lookUpTable.ts';
import type { TwoCameraModel } from '../../../../src/rig/Registration.ts';
import { OverlayRenderer } from '../../overlay/OverlayRenderer.ts';

/** What the GPU drew for one ultraviolet pixel, beside what the registration says. */
export interface CheckedPlace {
  readonly uvPx: readonly [number, number];
  readonly drawnPx: readonly [number, number];
  readonly registrationPx: readonly [number, number];
}

const COLUMNS = 9;
const ROWS = 7;
const KERNEL_PX = 3;
const WINDOW_PX = 64;

/**
 * Draws one event after another at the nodes of a lattice over the ultraviolet image, each by the very shader that draws the
 * overlay, reads the density back from the GPU and takes its centre of mass.
 */
export function checkOverlay(table: LookUpTable, model: TwoCameraModel, inverseRangePerM: number): CheckedPlace[] {
  const renderer = new OverlayRenderer(new OffscreenCanvas(WINDOW_PX, WINDOW_PX));
  try {
    renderer.setTable(table);
    const places: CheckedPlace[] = [];
    for (let row = 0; row < ROWS; row++)
      for (let column = 0; column < COLUMNS; column++) {
        // Off the table's nodes, where looking up is exact anyway.
        const u = 0.37 + ((model.uv.widthPx - 1.9) * column) / (COLUMNS - 1);
        const v = 0.61 + ((model.uv.heightPx - 1.9) * row) / (ROWS - 1);
        const expected = colourPxFromUv(model, u, v, inverseRangePerM);
        if (!expected) continue;
        renderer.setEvents({
          count: 1,
          px: Float32Array.of(u, v),
          inverseRangePerM: Float32Array.of(inverseRangePerM),
          alreadyColour: false,
        });
        const read = renderer.readDensity({
          // The window stands on whole pixels: its own place must not follow what is to be checked.
          view: {
            centreU: Math.round(expected[0]),
            centreV: Math.round(expected[1]),
            scale: 1,
            widthPx: WINDOW_PX,
            heightPx: WINDOW_PX,
          },
          inverseRangePerM,
          kernelPx: KERNEL_PX,
          levels: [1],
          lines: true,
          dots: false,
          brightness: 1,
          violet: [0, 0, 0],
          halo: [0, 0, 0],
          ground: [0, 0, 0],
        });
        let mass = 0;
        let sumU = 0;
        let sumV = 0;
        for (let j = 0; j < read.rows; j++)
          for (let i = 0; i < read.columns; i++) {
            const value = read.values[j * read.columns + i]!;
            mass += value;
            sumU += value * (read.leftPx + (i + 0.5) * read.texelPx);
            sumV += value * (read.topPx + (j + 0.5) * read.texelPx);
          }
        places.push({ uvPx: [u, v], drawnPx: [sumU / mass, sumV / mass], registrationPx: expected });
      }
    return places;
  } finally {
    renderer.dispose();
  }
}

export const deviationPx = ({ drawnPx, registrationPx }: CheckedPlace): number =>
  Math.hypot(drawnPx[0] - registrationPx[0], drawnPx[1] - registrationPx[1]);
