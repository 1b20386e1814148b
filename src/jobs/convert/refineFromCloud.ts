import { egm96UndulationM } from '../../earth/geoid.ts';
import type { Llh } from '../../earth/Llh.ts';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { llhFromProjected, PROJECTED_SYSTEMS, projectedFromLlh } from '../../earth/projected.ts';
import { InputError } from '../../input/InputError.ts';
import { catenaryFromParameter, catenaryFromSag, heightAt, sagAtMiddle } from '../../line/catenary.ts';
import { type SpanPlane, spanPlane } from '../../line/conductorAxis.ts';
import { bundleRadius } from '../../line/conductorFromFile.ts';
import type { LineFile } from '../../line/lineFile.ts';
import { refineConductor, type SpanPoint, type WireRefinement } from '../../line/refineConductor.ts';
import { refineString } from '../../line/refineString.ts';
import { add, type Vec3 } from '../../maths/vec3.ts';
import type { LasHeader } from '../../recording/pointCloud/lasHeader.ts';
import { readPointCloud } from '../../recording/pointCloud/readPointCloud.ts';

export interface CloudOptions {
  readonly files: readonly string[];
  /** null: as the files say. */
  readonly system: string | null;
  /** What the heights of the cloud stand above; null: as the files say. */
  readonly heights: 'ellipsoid' | 'EGM96' | null;
  /** How well the cloud as a whole lies, 1 sigma. */
  readonly sigmaM: number;
  /** How far a wire may be from where the line has it. */
  readonly reachM: number;
}

export interface CloudRefinement {
  readonly line: LineFile;
  readonly pointsRead: number;
  readonly pointsLeftOut: number;
  readonly refined: readonly {
    readonly id: string;
    readonly points: number;
    readonly movedM: number;
    readonly rmsM: number;
    readonly sigmaM: number;
  }[];
  readonly notRefined: readonly { readonly id: string; readonly because: string }[];
}

const CELL_M = 4;
const SAMPLE_M = 3;
/** Wires are looked for so far above and below, to tell a geoid that was left out. */
const GEOID_REACH_M = 110;
const GEOID_WITHIN_M = 1.2;
const SAME_END_M = 0.6;
const STRING_REACH_M = 1.2;

type Conductor = LineFile['conductors'][number];

interface Span {
  readonly conductor: Conductor;
  readonly plane: SpanPlane;
  readonly sagM: number;
  readonly points: SpanPoint[];
  readonly midLlh: Llh;
}

/**
 * Moves wires and strings of a line to where a laser scan has them. The line is refused as a whole where its heights and those of
 * the cloud differ by the geoid, and where the cloud lies elsewhere.
 * @throws InputError for a cloud whose system nothing tells, and the slips named above
 */
export async function refineFromCloud(line: LineFile, options: CloudOptions): Promise<CloudRefinement> {
  const spans = line.conductors.map((conductor): Span => {
    const plane = spanPlane(conductor.startLlh, conductor.endLlh);
    return {
      conductor,
      plane,
      sagM: nominalSag(conductor, plane),
      points: [],
      midLlh: plane.llhAt(plane.spanM / 2, 0),
    };
  });
  const strings = line.components
    .filter((c) => c.kind === 'insulator string')
    .map((component) => ({ component, frame: localFrameAt(component.startLlh), points: [] as Vec3[] }));
  const offsets = { asGiven: 0, sea: 0, twice: 0, any: 0 };
  let pointsRead = 0;
  let pointsLeftOut = 0;
  let inside = 0;
  for (const file of options.files) {
    let toLlh: (x: number, y: number, z: number) => Llh = () => [0, 0, 0];
    let cells = new Map<number, { spans: Set<Span>; strings: Set<(typeof strings)[number]> }>();
    let system = '';
    const { header, given, leftOut } = await readPointCloud(
      file,
      (found) => {
        system = systemOf(found, options, file);
        const heights = heightsOf(found, options, file);
        toLlh = (x, y, z) => {
          const [lon, lat] = llhFromProjected(system, x, y);
          return [lon, lat, heights === 'EGM96' ? z + egm96UndulationM(lon, lat) : z];
        };
        cells = cellsOf(system, spans, strings, options.reachM);
      },
      ({ count, xyz }) => {
        for (let i = 0; i < count; i++) {
          const [x, y, z] = [xyz[3 * i], xyz[3 * i + 1], xyz[3 * i + 2]];
          const cell = cells.get(keyOf(x, y));
          if (!cell) continue;
          inside++;
          const llh = toLlh(x, y, z);
          for (const span of cell.spans) takePoint(span, llh, options.reachM, offsets);
          for (const string of cell.strings) {
            const p = string.frame.enuFromLlh(llh);
            if (Math.hypot(p[0], p[1]) < 30 && Math.abs(p[2]) < 30) string.points.push(p);
          }
        }
      },
    );
    pointsRead += given;
    pointsLeftOut += leftOut;
    if (cells.size > 0 && inside === 0 && given > 0) throw elsewhere(file, header, system, line);
  }
  refuseGeoid(offsets, options, spans[0]?.midLlh ?? [0, 0, 0]);
  return { ...moved(line, spans, strings, options), pointsRead, pointsLeftOut };
}

const keyOf = (x: number, y: number): number => Math.floor(x / CELL_M) * 4e7 + Math.floor(y / CELL_M);

function cellsOf<S extends { readonly component: LineFile['components'][number] }>(
  system: string,
  spans: readonly Span[],
  strings: readonly S[],
  reachM: number,
) {
  const cells = new Map<number, { spans: Set<Span>; strings: Set<S> }>();
  const mark = (llh: Llh, set: (cell: { spans: Set<Span>; strings: Set<S> }) => unknown): void => {
    const [x, y] = projectedFromLlh(system, llh[0], llh[1]);
    const n = Math.ceil((reachM + SAMPLE_M / 2) / CELL_M);
    for (let i = -n; i <= n; i++)
      for (let j = -n; j <= n; j++) {
        const key = keyOf(x + i * CELL_M, y + j * CELL_M);
        const cell = cells.get(key) ?? { spans: new Set<Span>(), strings: new Set<S>() };
        cells.set(key, cell);
        set(cell);
      }
  };
  for (const span of spans)
    for (let x = 0; x <= span.plane.spanM; x += SAMPLE_M) mark(span.plane.llhAt(x, 0), (cell) => cell.spans.add(span));
  for (const string of strings)
    for (const llh of [string.component.startLlh, string.component.endLlh])
      mark(llh, (cell) => cell.strings.add(string));
  return cells;
}

function takePoint(
  span: Span,
  llh: Llh,
  reachM: number,
  offsets: { asGiven: number; sea: number; twice: number; any: number },
): void {
  const { xM, besideM, zM } = span.plane.pointIn(llh);
  if (Math.abs(besideM) > reachM || xM < 0 || xM > span.plane.spanM) return;
  const offM = zM - heightAt(catenaryFromSag(span.plane.spanM, span.plane.riseM, span.sagM), xM);
  if (Math.abs(offM) < reachM) span.points.push({ xM, besideM, zM });
  if (Math.abs(offM) > GEOID_REACH_M || Math.abs(besideM) > 1) return;
  const undulationM = egm96UndulationM(llh[0], llh[1]);
  offsets.any++;
  if (Math.abs(offM) < GEOID_WITHIN_M) offsets.asGiven++;
  if (Math.abs(offM + undulationM) < GEOID_WITHIN_M) offsets.sea++;
  if (Math.abs(offM - undulationM) < GEOID_WITHIN_M) offsets.twice++;
}

function refuseGeoid(offsets: { asGiven: number; sea: number; twice: number }, options: CloudOptions, at: Llh): void {
  const undulationM = egm96UndulationM(at[0], at[1]);
  if (Math.abs(undulationM) < 3 * GEOID_WITHIN_M) return;
  const most = Math.max(offsets.sea, offsets.twice);
  if (most < 50 || most < 3 * offsets.asGiven) return;
  const low = offsets.sea >= offsets.twice;
  throw new InputError({
    file: options.files.join(', '),
    field: 'heights',
    found: `${most} points that follow the wires ${Math.abs(undulationM).toFixed(1)} m too ${low === undulationM > 0 ? 'low' : 'high'}, and ${offsets.asGiven} on them`,
    expected: `heights of cloud and line above the same surface; EGM96 is ${undulationM.toFixed(1)} m above the ellipsoid here`,
    todo: low
      ? 'The cloud looks given above the sea (--cloud-heights EGM96), or the geoid was added to the line twice.'
      : 'The line looks given above the sea: say so in its mapping, or add the geoid to its heights.',
  });
}

function systemOf(header: LasHeader, { system }: CloudOptions, file: string): string {
  const own = header.horizontalEpsg === null ? null : `EPSG:${header.horizontalEpsg}`;
  const code = system ?? own;
  if (code === null)
    throw new InputError({
      file,
      field: 'coordinate system',
      found: 'none in the file',
      expected: 'a projected system',
      todo: 'Give it with --cloud-system, e.g. EPSG:25833.',
    });
  if (system !== null && own !== null && own !== system && PROJECTED_SYSTEMS.has(own))
    throw new InputError({
      file,
      field: 'coordinate system',
      found: own,
      expected: `${system}, as the command line says`,
      todo: 'Leave --cloud-system out: the file knows better.',
    });
  if (!PROJECTED_SYSTEMS.has(code))
    throw new InputError({
      file,
      field: 'coordinate system',
      found: code,
      expected: 'EPSG:32601 to 32660, 32701 to 32760, 25828 to 25838, 2154 or 3035',
      todo: 'Transform the cloud with a tool that carries the grids its system needs.',
    });
  return code;
}

function heightsOf({ verticalEpsg }: LasHeader, { heights }: CloudOptions, file: string): 'ellipsoid' | 'EGM96' {
  if (verticalEpsg === 5773) {
    if (heights === 'ellipsoid')
      throw new InputError({
        file,
        field: 'heights',
        found: 'EPSG:5773 (EGM96 height)',
        expected: 'heights above the ellipsoid, as the command line says',
        todo: 'Leave --cloud-heights out: the file knows better.',
      });
    return 'EGM96';
  }
  if (heights !== null) return heights;
  throw new InputError({
    file,
    field: 'heights',
    found:
      verticalEpsg === null
        ? 'nothing that says what heights stand above'
        : `EPSG:${verticalEpsg}, a height system whose geoid is not carried here`,
    expected: 'heights above the ellipsoid or above EGM96',
    todo: 'Say with --cloud-heights what they stand above; other geoids have to be converted first.',
  });
}

function elsewhere(file: string, { least, most }: LasHeader, system: string, line: LineFile): InputError {
  const [lon, lat] = line.structures[0].positionLlh;
  const [e, n] = projectedFromLlh(system, lon, lat);
  const holds = (x: number, y: number): boolean =>
    x > least[0] - 2000 && x < most[0] + 2000 && y > least[1] - 2000 && y < most[1] + 2000;
  const zone = Number(system.slice(5));
  const beside = [zone - 1, zone + 1]
    .map((z) => `EPSG:${z}`)
    .find((code) => PROJECTED_SYSTEMS.has(code) && holds(...projectedFromLlh(code, lon, lat)));
  return new InputError({
    file,
    field: 'extent',
    found: `eastings ${least[0].toFixed(0)} to ${most[0].toFixed(0)}, northings ${least[1].toFixed(0)} to ${most[1].toFixed(0)}, no point near a wire`,
    expected: `points about ${e.toFixed(0)}, ${n.toFixed(0)} (${system})`,
    todo: holds(n, e)
      ? 'Easting and northing are exchanged in the cloud.'
      : beside
        ? `The cloud looks given in the zone beside, ${beside}.`
        : 'Give the cloud of this line, or correct its system.',
  });
}

function nominalSag(c: Conductor, { spanM, riseM, pointIn }: SpanPlane): number {
  if (c.sagM !== undefined) return c.sagM;
  if (c.parameterM !== undefined) return sagAtMiddle(catenaryFromParameter(spanM, riseM, c.parameterM));
  if (c.horizontalTensionN !== undefined && c.weightNPerM !== undefined)
    return sagAtMiddle(catenaryFromParameter(spanM, riseM, c.horizontalTensionN / c.weightNPerM));
  // From the measured point nearest to the middle, by the parabola.
  const { xM, zM } = (c.wirePointsLlh ?? [])
    .map(pointIn)
    .reduce((a, b) => (Math.abs(b.xM - spanM / 2) < Math.abs(a.xM - spanM / 2) ? b : a));
  return Math.max(0.01, ((riseM * xM) / spanM - zM) / ((4 * xM * (spanM - xM)) / spanM ** 2));
}

function moved(
  line: LineFile,
  spans: readonly Span[],
  strings: readonly {
    readonly component: LineFile['components'][number];
    readonly frame: ReturnType<typeof localFrameAt>;
    readonly points: readonly Vec3[];
  }[],
  options: CloudOptions,
): Omit<CloudRefinement, 'pointsRead' | 'pointsLeftOut'> {
  const refined: { id: string; points: number; movedM: number; rmsM: number; sigmaM: number }[] = [];
  const notRefined: { id: string; because: string }[] = [];
  /** Old and new place of every wire end that was refined. */
  const ends: { from: Llh; to: Llh; structureId: string; sigmaM: number }[] = [];
  const conductors = spans.map(({ conductor, plane, sagM, points }): Conductor => {
    const found: WireRefinement = refineConductor(
      points,
      { spanM: plane.spanM, riseM: plane.riseM, sagM, bundleRadiusM: bundleRadius(conductor.bundle) },
      options.reachM,
    );
    if (found.kind === 'not refined') {
      notRefined.push({ id: conductor.id, because: found.because });
      return conductor;
    }
    const sigmaM = Math.hypot(found.endSigmaM, options.sigmaM);
    const startLlh = [...plane.llhAt(0, found.up[0], found.beside[0])] as [number, number, number];
    const endLlh = [...plane.llhAt(plane.spanM, found.up[1], found.beside[1])] as [number, number, number];
    ends.push(
      { from: conductor.startLlh, to: startLlh, structureId: conductor.fromStructureId, sigmaM },
      { from: conductor.endLlh, to: endLlh, structureId: conductor.toStructureId, sigmaM },
    );
    refined.push({
      id: conductor.id,
      points: found.points,
      movedM: found.movedM,
      rmsM: found.rmsM,
      sigmaM: Math.hypot(sigmaM, found.sagSigmaM),
    });
    const { parameterM: _p, horizontalTensionN: _h, weightNPerM: _w, wirePointsLlh: _q, ...rest } = conductor;
    return { ...rest, startLlh, endLlh, sagM: found.sagM, sagSigmaM: found.sagSigmaM, sigmaM };
  });
  const pointsOf = new Map(strings.map((s) => [s.component.id, s]));
  const components = line.components.map((component) => {
    const frame = localFrameAt(component.endLlh);
    const near = ends.filter(
      (e) => e.structureId === component.structureId && Math.hypot(...frame.enuFromLlh(e.from)) < SAME_END_M,
    );
    if (near.length === 0) {
      if (component.structureId !== undefined)
        notRefined.push({ id: component.id, because: 'no refined wire ends at it' });
      return component;
    }
    // At a suspension clamp the wires of both spans meet: the mean of both.
    const shift = near
      .map((e) => frame.enuFromLlh(e.to))
      .map((to, i) => [0, 1, 2].map((k) => to[k] - frame.enuFromLlh(near[i].from)[k]));
    const mean = [0, 1, 2].map((k) => shift.reduce((sum, s) => sum + s[k], 0) / shift.length) as unknown as Vec3;
    const sigmaM = Math.max(...near.map((e) => e.sigmaM));
    const by = (llh: Llh, d: Vec3): [number, number, number] => {
      const at = localFrameAt(llh);
      return [...at.llhFromEnu(d)] as [number, number, number];
    };
    const endLlh = by(component.endLlh, mean);
    if (component.kind !== 'insulator string') {
      refined.push({ id: component.id, points: 0, movedM: Math.hypot(...mean), rmsM: 0, sigmaM });
      return { ...component, startLlh: by(component.startLlh, mean), endLlh, sigmaM };
    }
    const own = pointsOf.get(component.id);
    const low = own ? add(own.frame.enuFromLlh(component.endLlh), mean) : mean;
    const found = own
      ? refineString(
          own.points.filter((p) => Math.hypot(p[0], p[1]) < STRING_REACH_M + Math.hypot(low[0], low[1])),
          [0, 0, 0],
          low,
        )
      : null;
    if (!own || !found || found.kind === 'not refined') {
      notRefined.push({
        id: component.id,
        because: `${found?.kind === 'not refined' ? found.because : 'no points'}; its lower end follows the wire`,
      });
      return { ...component, endLlh, sigmaM: Math.max(component.sigmaM, sigmaM) };
    }
    const startLlh = [...own.frame.llhFromEnu(found.shiftTopM)] as [number, number, number];
    refined.push({
      id: component.id,
      points: found.points,
      movedM: Math.hypot(...mean),
      rmsM: 0,
      sigmaM: Math.hypot(found.sigmaM, options.sigmaM),
    });
    return { ...component, startLlh, endLlh, sigmaM: Math.hypot(found.sigmaM, options.sigmaM) };
  });
  return { line: { ...line, components, conductors }, refined, notRefined };
}
