import type { LineModel } from '../line/LineModel.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { northArrow } from './drawMap.ts';
import { INK, INK_SOFT, PAPER, ULTRAVIOLET } from './ink.ts';
import { extentOf, paperFrame, visibleRuns } from './PaperFrame.ts';
import { scaleBarMark } from './scaleBarMark.ts';
import { drawing, element, pathData, textElement } from './xml.ts';

export interface Sketch {
  readonly svg: string;
  readonly widthMm: number;
  readonly heightMm: number;
}

/** Plan of where the pictures of a discharge were taken from: cameras, rays, the hardware around, the discharge. */
export function drawRayPlan(
  line: LineModel,
  dischargeEnuM: Vec3,
  cameras: readonly { enuM: Vec3; rangeText: string }[],
  tracksEnuM: readonly (readonly Vec3[])[],
  componentId: string | null,
  paper: { widthMm: number; heightMm: number },
  words: { north: string; decimalMark: string },
): Sketch {
  const around = 8;
  const frame = paperFrame(
    extentOf([
      dischargeEnuM[0] - around,
      dischargeEnuM[1] - around,
      dischargeEnuM[0] + around,
      dischargeEnuM[1] + around,
      ...cameras.flatMap(({ enuM }) => [enuM[0], enuM[1]]),
    ]),
    { ...paper, leastHeightMm: paper.heightMm, marginMm: 7 },
  );
  const path = (points: readonly Vec3[], stroke: string, width: number, dash?: string) =>
    element('path', {
      d: pathData(points.flatMap(([e, n]) => [frame.xMm(e), frame.yMm(n)])),
      fill: 'none',
      stroke,
      'stroke-width': width,
      'stroke-linecap': 'round',
      'stroke-dasharray': dash,
    });
  const marks: string[] = [];
  const visible = (points: readonly Vec3[]) => visibleRuns(points, frame.shownM);
  for (const track of tracksEnuM) for (const run of visible(track)) marks.push(path(run, INK_SOFT, 0.18, '1.2 0.8'));
  for (const component of line.components) {
    const wire = component.kind === 'conductor' || component.kind === 'earth wire';
    const heavy = component.id === componentId;
    for (const run of visible(component.axisEnuM)) marks.push(path(run, INK, heavy ? 0.9 : wire ? 0.14 : 0.35));
  }
  for (const { footEnuM } of line.structures.filter((s) => visible([s.footEnuM]).length > 0))
    marks.push(
      element('rect', {
        x: frame.xMm(footEnuM[0]) - 1.3,
        y: frame.yMm(footEnuM[1]) - 1.3,
        width: 2.6,
        height: 2.6,
        fill: 'none',
        stroke: INK,
        'stroke-width': 0.25,
      }),
    );
  for (const { enuM } of cameras) marks.push(path([enuM, dischargeEnuM], ULTRAVIOLET, 0.2));
  const [x, y] = [frame.xMm(dischargeEnuM[0]), frame.yMm(dischargeEnuM[1])];
  marks.push(element('circle', { cx: x, cy: y, r: 1.1, fill: ULTRAVIOLET, stroke: PAPER, 'stroke-width': 0.25 }));
  for (const { enuM, rangeText } of cameras) {
    const cx = frame.xMm(enuM[0]);
    const cy = frame.yMm(enuM[1]);
    marks.push(element('circle', { cx, cy, r: 0.9, fill: PAPER, stroke: INK, 'stroke-width': 0.35 }));
    // Beside the camera, off the ray: to its right where the ray leaves upwards or downwards, and inside the paper.
    const toRight = cx + 12 < frame.widthMm;
    marks.push(
      textElement(
        {
          x: cx + (toRight ? 1.8 : -1.8),
          y: cy + 0.9,
          'font-size': 2.4,
          'text-anchor': toRight ? 'start' : 'end',
          fill: INK,
        },
        rangeText,
      ),
    );
  }
  return framed(frame.widthMm, frame.heightMm, [
    ...marks,
    northArrow(frame.widthMm - 4.5, 2.5, words.north),
    scaleBarMark(1, frame.heightMm - 1, frame.mmPerM, 0.3 * frame.widthMm, words.decimalMark),
  ]);
}

/** A sketch clipped to its paper, with a thin border. */
export function framed(widthMm: number, heightMm: number, content: readonly string[]): Sketch {
  return {
    widthMm,
    heightMm,
    svg: drawing(widthMm, heightMm, [
      element('clipPath', { id: 'sheet' }, element('rect', { x: 0, y: 0, width: widthMm, height: heightMm })),
      element('g', { 'clip-path': 'url(#sheet)' }, ...content),
      element('rect', {
        x: 0.1,
        y: 0.1,
        width: widthMm - 0.2,
        height: heightMm - 0.2,
        fill: 'none',
        stroke: INK_SOFT,
        'stroke-width': 0.15,
      }),
    ]),
  };
}
