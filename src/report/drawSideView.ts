import type { LineComponent, LineModel, Structure } from '../line/LineModel.ts';
import { subtract, type Vec3 } from '../maths/vec3.ts';
import { framed, type Sketch } from './drawRayPlan.ts';
import { INK, INK_SOFT, PAPER, ULTRAVIOLET } from './ink.ts';
import { nearestStructure } from './nearestStructure.ts';
import { extentOf, paperFrame } from './PaperFrame.ts';
import { scaleBarMark } from './scaleBarMark.ts';
import { element, pathData } from './xml.ts';

export type SideView = Sketch &
  (
    | { readonly kind: 'structure'; readonly structureId: string }
    | { readonly kind: 'span'; readonly structureIds: readonly [string, string]; readonly stretch: number }
  );

/**
 * The hardware from the side, so that a crew sees which arm, which string, which place in the span is meant.
 * At a structure the look is along the line; for a thing in a span it is across it, with heights stretched when the
 * span is long. Null where the line model has nothing to draw.
 */
export function drawSideView(
  line: LineModel,
  dischargeEnuM: Vec3,
  component: LineComponent | null,
  paper: { widthMm: number; heightMm: number },
  decimalMark: string,
): SideView | null {
  const ends = (component?.structureIds ?? [])
    .map((id) => line.structures.find((s) => s.id === id))
    .filter((s): s is Structure => s !== undefined);
  if (ends.length >= 2) return spanView(line, dischargeEnuM, component!, ends[0]!, ends[1]!, paper, decimalMark);
  const structure = ends[0] ?? nearestStructure(line, dischargeEnuM);
  return structure === null ? null : structureView(line, dischargeEnuM, component, structure, paper, decimalMark);
}

function structureView(
  line: LineModel,
  dischargeEnuM: Vec3,
  component: LineComponent | null,
  structure: Structure,
  paper: { widthMm: number; heightMm: number },
  decimalMark: string,
): SideView | null {
  const own = line.components.filter(
    (c) => c.structureIds.length === 1 && c.structureIds[0] === structure.id && c.axisEnuM.length > 0,
  );
  if (own.length === 0) return null;
  const [ax, ay] = armDirection(own, structure);
  const flat = (p: Vec3): [number, number] => {
    const [e, n, u] = subtract(p, structure.footEnuM);
    return [e * ax + n * ay, u];
  };
  const points = [...own.flatMap((c) => c.axisEnuM.flatMap(flat)), ...flat(dischargeEnuM)];
  const extent = extentOf(points);
  // A quarter below the lowest hardware is left for the mast and the scale bar.
  const top = Math.max(extent.toY, structure.heightM);
  const frame = paperFrame(
    {
      fromX: Math.min(extent.fromX, 0),
      toX: Math.max(extent.toX, 0),
      fromY: extent.fromY - 0.25 * (top - extent.fromY),
      toY: top,
    },
    { ...paper, leastHeightMm: paper.heightMm, marginMm: 2.5 },
  );
  const marks: string[] = [
    element('path', {
      d: `M${frame.xMm(-1.2).toFixed(3)} ${frame.heightMm.toFixed(3)}L${frame.xMm(0).toFixed(3)} ${frame.yMm(structure.heightM).toFixed(3)}L${frame.xMm(1.2).toFixed(3)} ${frame.heightMm.toFixed(3)}`,
      fill: 'none',
      stroke: INK_SOFT,
      'stroke-width': 0.2,
    }),
  ];
  for (const c of own) {
    const heavy = c.id === component?.id;
    const flatAxis = c.axisEnuM.map(flat);
    // An arm from the mast to where a string hangs, so that the strings do not float in the air.
    if (c.kind === 'insulator string') {
      const [x, y] = flatAxis[0]!;
      marks.push(
        element('path', {
          d: pathData([frame.xMm(0), frame.yMm(y), frame.xMm(x), frame.yMm(y)]),
          stroke: INK_SOFT,
          'stroke-width': 0.2,
        }),
      );
    }
    marks.push(
      element('path', {
        d: `${pathData(flatAxis.flatMap(([x, y]) => [frame.xMm(x), frame.yMm(y)]))}h0`,
        fill: 'none',
        stroke: INK,
        'stroke-width': heavy ? 1.1 : c.kind === 'insulator string' ? 0.4 : 0.7,
        'stroke-linecap': 'round',
      }),
    );
  }
  marks.push(dischargeMark(frame.xMm(flat(dischargeEnuM)[0]), frame.yMm(flat(dischargeEnuM)[1])));
  marks.push(scaleBarMark(1, frame.heightMm - 1, frame.mmPerM, 0.35 * frame.widthMm, decimalMark));
  return { kind: 'structure', structureId: structure.id, ...framed(frame.widthMm, frame.heightMm, marks) };
}

function spanView(
  line: LineModel,
  dischargeEnuM: Vec3,
  component: LineComponent,
  from: Structure,
  to: Structure,
  paper: { widthMm: number; heightMm: number },
  decimalMark: string,
): SideView {
  const lengthM = Math.hypot(to.footEnuM[0] - from.footEnuM[0], to.footEnuM[1] - from.footEnuM[1]) || 1;
  const ax = (to.footEnuM[0] - from.footEnuM[0]) / lengthM;
  const ay = (to.footEnuM[1] - from.footEnuM[1]) / lengthM;
  const flat = (p: Vec3): [number, number] => {
    const [e, n, u] = subtract(p, from.footEnuM);
    return [e * ax + n * ay, u];
  };
  const wires = line.components.filter(
    (c) =>
      (c.kind === 'conductor' || c.kind === 'earth wire') &&
      c.structureIds.includes(from.id) &&
      c.structureIds.includes(to.id),
  );
  const masts = [from, to].map((s): [number, number, number] => {
    const [x, y] = flat(s.footEnuM);
    return [x, y, y + s.heightM];
  });
  const extent = extentOf([
    ...wires.flatMap((c) => c.axisEnuM.flatMap(flat)),
    ...masts.flatMap(([x, foot, top]) => [x, foot, x, top]),
    ...flat(dischargeEnuM),
  ]);
  const wanted =
    (paper.heightMm - 12) / (extent.toY - extent.fromY || 1) / ((paper.widthMm - 12) / (extent.toX - extent.fromX));
  const stretch = Math.max(1, Math.floor(Math.min(wanted, 5)));
  const frame = paperFrame(extent, { ...paper, leastHeightMm: paper.heightMm, marginMm: 6, stretch });
  const marks = masts.map(([x, foot, top]) =>
    element('path', {
      d: pathData([frame.xMm(x), frame.yMm(foot), frame.xMm(x), frame.yMm(top)]),
      stroke: INK_SOFT,
      'stroke-width': 0.4,
    }),
  );
  for (const c of [...wires.filter((w) => w.id !== component.id), component])
    marks.push(
      element('path', {
        d: pathData(c.axisEnuM.flatMap((p) => [frame.xMm(flat(p)[0]), frame.yMm(flat(p)[1])])),
        fill: 'none',
        stroke: INK,
        'stroke-width': c.id === component.id ? 0.7 : 0.15,
        'stroke-linecap': 'round',
      }),
    );
  marks.push(dischargeMark(frame.xMm(flat(dischargeEnuM)[0]), frame.yMm(flat(dischargeEnuM)[1])));
  marks.push(scaleBarMark(1, frame.heightMm - 1, frame.mmPerM, 0.35 * frame.widthMm, decimalMark));
  return { kind: 'span', structureIds: [from.id, to.id], stretch, ...framed(frame.widthMm, frame.heightMm, marks) };
}

const dischargeMark = (x: number, y: number) =>
  element('circle', { cx: x, cy: y, r: 1.2, fill: ULTRAVIOLET, stroke: PAPER, 'stroke-width': 0.3 });

/** Level direction in which the hardware of a structure spreads most: that of its cross-arms. */
function armDirection(own: readonly LineComponent[], structure: Structure): readonly [number, number] {
  let [ee, en, nn] = [0, 0, 0];
  for (const { axisEnuM } of own) {
    // The end at the structure: conductor ends of tension strings would pull the direction along the line.
    const [e, n] = subtract(axisEnuM[0]!, structure.footEnuM);
    ee += e * e;
    en += e * n;
    nn += n * n;
  }
  const angle = Math.atan2(2 * en, ee - nn) / 2;
  return [Math.cos(angle), Math.sin(angle)];
}
