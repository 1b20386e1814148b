import { INK, PAPER } from './ink.ts';
import { roundLengthM } from './scaleBar.ts';
import { element, textElement } from './xml.ts';

/**
 * A scale bar of a round length on a plate of paper, its lower left corner at (xMm, yMm).
 * @param mmPerM   paper millimetres for a metre of the world
 * @param mostMm   longest bar wanted
 * @param decimal  decimal mark
 */
export function scaleBarMark(xMm: number, yMm: number, mmPerM: number, mostMm: number, decimal: string): string {
  const lengthM = roundLengthM(mostMm / mmPerM);
  const lengthMm = lengthM * mmPerM;
  const label =
    lengthM >= 1000
      ? `${lengthM / 1000} km`
      : lengthM >= 1
        ? `${lengthM} m`
        : lengthM >= 0.01
          ? `${Math.round(lengthM * 100)} cm`
          : `${String(lengthM * 1000).replace('.', decimal)} mm`;
  return element(
    'g',
    { class: 'scale-bar', 'data-length-m': String(lengthM), 'data-length-mm': lengthMm },
    element('rect', {
      x: xMm,
      y: yMm - 6.2,
      width: lengthMm + 3,
      height: 6.2,
      fill: PAPER,
      'fill-opacity': 0.85,
    }),
    textElement({ x: xMm + 1.5, y: yMm - 3, 'font-size': 2.5, fill: INK }, label),
    element('path', {
      d: `M${xMm + 1.5} ${yMm - 2.2}V${yMm - 1.2}H${(xMm + 1.5 + lengthMm).toFixed(3)}V${yMm - 2.2}`,
      fill: 'none',
      stroke: INK,
      'stroke-width': 0.3,
    }),
  );
}
