import type { LineComponent, LineModel } from '../line/LineModel.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { INK, INK_FAINT, INK_SOFT, PAPER, ULTRAVIOLET } from './ink.ts';
import { extentOf, type PaperFrame, paperFrame, visibleRuns } from './PaperFrame.ts';
import { roundLengthM } from './scaleBar.ts';
import { scaleBarMark } from './scaleBarMark.ts';
import { drawing, element, pathData, textElement } from './xml.ts';

/** A finding as the map shows it. */
export interface MapFinding {
  readonly number: number;
  readonly positionEnuM: Vec3;
  /** Filled where action is wanted now or soon, open otherwise. */
  readonly urgent: boolean;
}

export interface MapDrawing {
  readonly svg: string;
  readonly widthMm: number;
  readonly heightMm: number;
  /** One millimetre of paper is this many millimetres of ground. */
  readonly denominator: number;
  readonly gridStepM: number;
}

interface Box {
  readonly x: number;
  readonly y: number;
  readonly w: number;
  readonly h: number;
}
const overlap = (a: Box, b: Box) => a.x < b.x + b.w && b.x < a.x + a.w && a.y < b.y + b.h && b.y < a.y + a.h;

/** Plan of the line, or of the part of it inside `windowM`, in the local frame, north up. */
export function drawMap(
  line: LineModel,
  tracksEnuM: readonly (readonly Vec3[])[],
  findings: readonly MapFinding[],
  windowM: { fromX: number; toX: number; fromY: number; toY: number },
  paper: { widthMm: number; heightMm: number; leastHeightMm: number },
  words: { north: string; decimalMark: string },
  notSeenAt: ReadonlySet<string> = new Set(),
): MapDrawing {
  const frame = paperFrame(windowM, { ...paper, marginMm: 15 });
  const gridStepM = roundLengthM(frame.widthMm / frame.mmPerM / 4);
  const clip = element(
    'clipPath',
    { id: 'sheet' },
    element('rect', { x: 0, y: 0, width: frame.widthMm, height: frame.heightMm }),
  );
  const inside: string[] = [];
  const path = (points: readonly Vec3[], stroke: string, width: number, dash?: string) =>
    visibleRuns(points, frame.shownM).map((run) =>
      element('path', {
        d: pathData(run.flatMap(([e, n]) => [frame.xMm(e), frame.yMm(n)])),
        fill: 'none',
        stroke,
        'stroke-width': width,
        'stroke-dasharray': dash,
      }),
    );
  for (const track of tracksEnuM) inside.push(...path(track, INK_SOFT, 0.2, '1.4 0.9'));
  const wires = line.components.filter(({ kind }) => kind === 'conductor' || kind === 'earth wire');
  for (const wire of wires) inside.push(...path(wire.axisEnuM, INK, 0.14));
  // North arrow and scale bar have their places; labels keep off them, off the marks and off the wires.
  const taken: Box[] = [
    { x: frame.widthMm - 10, y: 2, w: 9, h: 15 },
    { x: 2, y: frame.heightMm - 13, w: 46, h: 12 },
    ...wireBoxes(wires, frame),
  ];
  const labels: string[] = [];
  const shown = (x: number, y: number) => x > 0 && y > 0 && x < frame.widthMm && y < frame.heightMm;
  for (const structure of line.structures) {
    const x = frame.xMm(structure.footEnuM[0]);
    const y = frame.yMm(structure.footEnuM[1]);
    if (!shown(x, y)) continue;
    inside.push(
      element('rect', {
        x: x - 1,
        y: y - 1,
        width: 2,
        height: 2,
        fill: structure.kind === 'tension' ? INK : PAPER,
        stroke: INK,
        'stroke-width': 0.3,
      }),
    );
    if (notSeenAt.has(structure.id))
      inside.push(
        element('path', {
          d: `M${x - 2} ${y - 2}l4 4m0 -4l-4 4`,
          stroke: INK,
          'stroke-width': 0.25,
        }),
      );
    taken.push({ x: x - 1.6, y: y - 1.6, w: 3.2, h: 3.2 });
  }
  const placed: { x: number; y: number; finding: MapFinding }[] = [];
  for (const finding of findings) {
    const x = frame.xMm(finding.positionEnuM[0]);
    const y = frame.yMm(finding.positionEnuM[1]);
    if (shown(x, y)) placed.push({ x, y, finding });
  }
  for (const { x, y, finding } of placed)
    inside.push(
      element(
        'g',
        { 'data-finding': `F${finding.number}` },
        element('circle', {
          cx: x,
          cy: y,
          r: finding.urgent ? 1.25 : 1.05,
          fill: finding.urgent ? ULTRAVIOLET : PAPER,
          'fill-opacity': finding.urgent ? 1 : 0.6,
          stroke: finding.urgent ? PAPER : ULTRAVIOLET,
          'stroke-width': finding.urgent ? 0.2 : 0.4,
        }),
      ),
    );
  for (const cluster of clustersOf(placed)) {
    const text = cluster.map(({ finding }) => `F${finding.number}`).join(', ');
    const at = { x: mean(cluster.map((p) => p.x)), y: mean(cluster.map((p) => p.y)) };
    labels.push(label(at, text, taken, frame, ULTRAVIOLET, 600));
  }
  for (const structure of line.structures) {
    const at = { x: frame.xMm(structure.footEnuM[0]), y: frame.yMm(structure.footEnuM[1]) };
    if (shown(at.x, at.y)) labels.push(label(at, structure.id, taken, frame, INK, 400));
  }
  return {
    svg: drawing(frame.widthMm, frame.heightMm, [
      clip,
      element('rect', { x: 0, y: 0, width: frame.widthMm, height: frame.heightMm, fill: PAPER }),
      ...gridOf(frame, gridStepM),
      element('g', { 'clip-path': 'url(#sheet)' }, ...inside),
      ...labels,
      element('rect', {
        x: 0.1,
        y: 0.1,
        width: frame.widthMm - 0.2,
        height: frame.heightMm - 0.2,
        fill: 'none',
        stroke: INK,
        'stroke-width': 0.2,
      }),
      northArrow(frame.widthMm - 6, 4, words.north),
      scaleBarMark(3, frame.heightMm - 5, frame.mmPerM, 40, words.decimalMark),
    ]),
    widthMm: frame.widthMm,
    heightMm: frame.heightMm,
    denominator: 1000 / frame.mmPerM,
    gridStepM,
  };
}

/** The cells of a fine grid on paper that a wire runs through; wires that coincide on paper share their cells. */
function wireBoxes(wires: readonly LineComponent[], frame: PaperFrame): Box[] {
  const cellMm = 0.8;
  const cells = new Map<string, Box>();
  for (const { axisEnuM } of wires)
    for (const run of visibleRuns(axisEnuM, frame.shownM))
      for (let k = 1; k < run.length; k++) {
        const [x0, y0] = [frame.xMm(run[k - 1]![0]), frame.yMm(run[k - 1]![1])];
        const [x1, y1] = [frame.xMm(run[k]![0]), frame.yMm(run[k]![1])];
        const steps = Math.max(1, Math.ceil(Math.hypot(x1 - x0, y1 - y0) / cellMm));
        for (let s = 0; s <= steps; s++) {
          const column = Math.floor((x0 + (s / steps) * (x1 - x0)) / cellMm);
          const row = Math.floor((y0 + (s / steps) * (y1 - y0)) / cellMm);
          cells.set(`${column} ${row}`, { x: column * cellMm, y: row * cellMm, w: cellMm, h: cellMm });
        }
      }
  return [...cells.values()];
}

const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;

/** Findings nearer to each other on paper than their marks are wide share one label. */
function clustersOf<T extends { x: number; y: number }>(points: readonly T[]): T[][] {
  const clusters: T[][] = [];
  for (const point of points) {
    const near = clusters.find((cluster) => cluster.some((p) => Math.hypot(p.x - point.x, p.y - point.y) < 3.5));
    if (near) near.push(point);
    else clusters.push([point]);
  }
  return clusters;
}

/** A label in the nearest free place around a mark, with a leader where it had to move away. */
function label(
  at: { x: number; y: number },
  text: string,
  taken: Box[],
  frame: PaperFrame,
  colour: string,
  weight: number,
): string {
  const size = 2.5;
  const w = text.length * size * 0.6 + 0.8;
  const h = size + 0.6;
  let chosen: Box | null = null;
  let distance = 0;
  for (distance = 3; distance <= 24 && chosen === null; distance += 1.5)
    for (const angle of [-60, -120, 60, 120, -90, 90, -30, -150, 30, 150, 0, 180]) {
      const cx =
        at.x +
        distance * Math.cos((angle * Math.PI) / 180) +
        (Math.abs(angle) < 90 ? w / 2 : Math.abs(angle) > 90 ? -w / 2 : 0);
      const cy = at.y + distance * Math.sin((angle * Math.PI) / 180);
      const box = { x: cx - w / 2, y: cy - h / 2, w, h };
      const fits = box.x > 1 && box.y > 1 && box.x + w < frame.widthMm - 1 && box.y + h < frame.heightMm - 1;
      if (fits && !taken.some((other) => overlap(box, other))) {
        chosen = box;
        break;
      }
    }
  const box = chosen ?? { x: at.x + 2, y: at.y - h / 2, w, h };
  taken.push(box);
  const near = { x: Math.min(Math.max(at.x, box.x), box.x + w), y: Math.min(Math.max(at.y, box.y), box.y + h) };
  const leader =
    Math.hypot(near.x - at.x, near.y - at.y) > 2.2
      ? element('path', {
          d: pathData([at.x, at.y, near.x, near.y]),
          stroke: colour,
          'stroke-width': 0.12,
        })
      : '';
  return (
    leader +
    element('rect', { x: box.x, y: box.y, width: box.w, height: box.h, fill: PAPER, 'fill-opacity': 0.8 }) +
    textElement(
      {
        x: box.x + w / 2,
        y: box.y + size - 0.1,
        'font-size': size,
        'font-weight': weight,
        'text-anchor': 'middle',
        fill: colour,
      },
      text,
    )
  );
}

function gridOf(frame: PaperFrame, stepM: number): string[] {
  const marks: string[] = [];
  const { fromX, toX, fromY, toY } = frame.shownM;
  for (let e = Math.ceil(fromX / stepM) * stepM; e <= toX; e += stepM) {
    const x = frame.xMm(e);
    marks.push(
      element('path', { d: `M${x.toFixed(3)} 0V${frame.heightMm.toFixed(3)}`, stroke: INK_FAINT, 'stroke-width': 0.1 }),
    );
    if (x > 3 && x < frame.widthMm - 22)
      marks.push(
        textElement({ x: x + 0.6, y: frame.heightMm - 1, 'font-size': 2, fill: INK_SOFT }, `E ${Math.round(e)} m`),
      );
  }
  for (let n = Math.ceil(fromY / stepM) * stepM; n <= toY; n += stepM) {
    const y = frame.yMm(n);
    marks.push(
      element('path', { d: `M0 ${y.toFixed(3)}H${frame.widthMm.toFixed(3)}`, stroke: INK_FAINT, 'stroke-width': 0.1 }),
    );
    if (y > 6 && y < frame.heightMm - 12)
      marks.push(textElement({ x: 0.8, y: y - 0.6, 'font-size': 2, fill: INK_SOFT }, `N ${Math.round(n)} m`));
  }
  return marks;
}

export function northArrow(xMm: number, yMm: number, letter: string): string {
  return element(
    'g',
    { class: 'north' },
    element('path', { d: `M${xMm} ${yMm}l1.6 5.2l-1.6 -1.1l-1.6 1.1z`, fill: INK }),
    element('path', { d: `M${xMm} ${yMm + 4}v4`, stroke: INK, 'stroke-width': 0.3 }),
    textElement(
      { x: xMm, y: yMm + 11, 'font-size': 2.8, 'font-weight': 600, 'text-anchor': 'middle', fill: INK },
      letter,
    ),
  );
}

/** The line as one thin stroke with its structures and findings: for the cover, where nothing is to be measured. */
export function drawStrip(
  line: LineModel,
  findings: readonly MapFinding[],
  windowM: { fromX: number; toX: number; fromY: number; toY: number },
  paper: { widthMm: number; heightMm: number; leastHeightMm: number },
): { svg: string; widthMm: number; heightMm: number } {
  const frame = paperFrame(windowM, { ...paper, marginMm: 4 });
  const at = ([e, n]: Vec3): [number, number] => [frame.xMm(e), frame.yMm(n)];
  return {
    widthMm: frame.widthMm,
    heightMm: frame.heightMm,
    svg: drawing(frame.widthMm, frame.heightMm, [
      element('path', {
        d: pathData(line.structures.flatMap(({ footEnuM }) => at(footEnuM))),
        fill: 'none',
        stroke: INK,
        'stroke-width': 0.25,
      }),
      ...line.structures.map(({ footEnuM, kind }) => {
        const [x, y] = at(footEnuM);
        const fill = kind === 'tension' ? INK : PAPER;
        return element('rect', {
          x: x - 0.8,
          y: y - 0.8,
          width: 1.6,
          height: 1.6,
          fill,
          stroke: INK,
          'stroke-width': 0.25,
        });
      }),
      ...findings.map(({ positionEnuM, urgent }) => {
        const [cx, cy] = at(positionEnuM);
        return element('circle', {
          cx,
          cy,
          r: 1.1,
          fill: urgent ? ULTRAVIOLET : PAPER,
          'fill-opacity': urgent ? 1 : 0.6,
          stroke: ULTRAVIOLET,
          'stroke-width': 0.4,
        });
      }),
    ]),
  };
}

/** Extent of structures, conductors and findings: what the map of the whole line has to hold. */
export function lineExtent(line: LineModel, findings: readonly MapFinding[]) {
  const points = [
    ...line.structures.flatMap(({ footEnuM }) => [footEnuM[0], footEnuM[1]]),
    ...line.components.flatMap(({ axisEnuM }) => axisEnuM.flatMap(([e, n, _up]) => [e, n])),
    ...findings.flatMap(({ positionEnuM }) => [positionEnuM[0], positionEnuM[1]]),
  ];
  return extentOf(points.length > 0 ? points : [0, 0]);
}
