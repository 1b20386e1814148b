import type { Llh } from '../earth/Llh.ts';
import { type LocalFrame, localFrameAt } from '../earth/LocalFrame.ts';
import { InputError } from '../input/InputError.ts';
import { parseWith } from '../input/parseWith.ts';
import { distance } from '../maths/vec3.ts';
import { conductorAxis } from './conductorAxis.ts';
import type { LineComponent, LineModel, Structure } from './LineModel.ts';
import { type LineFile, lineFile } from './lineFile.ts';
import { lineFileFromTemplate } from './lineFileFromTemplate.ts';
import { lineTemplateFile } from './lineTemplateFile.ts';

/** Radius of the body of a thing about its axis where the file gives none (common practice, no source). */
export const USUAL_RADIUS_M: Record<LineFile['components'][number]['kind'], number> = {
  'insulator string': 0.14,
  clamp: 0.1,
  ring: 0.2,
  joint: 0.03,
  spacer: 0.25,
  damper: 0.1,
};

/** The longest axis that a thing of this kind can have, metres: beyond it, ends have been mixed up. */
const LONGEST_M: Record<LineFile['components'][number]['kind'], number> = {
  'insulator string': 25,
  clamp: 5,
  ring: 5,
  joint: 5,
  spacer: 5,
  damper: 5,
};

const LONGEST_SPAN_M = 6000;
/** Farther from the campaign's origin than this is another line, or swapped coordinates. */
const FARTHEST_FROM_ORIGIN_M = 300_000;
/** Widest cross-arm, metres from the foot of a tower, and how far hardware may reach above or below it. */
const WIDEST_ARM_M = 60;
const ABOVE_TOP_M = 15;
const BELOW_FOOT_M = 10;

/**
 * Checks a parsed `line.json` and turns it into a line model in the campaign's frame. A file of tower positions and kinds
 * of tower (format "corposant-line-template") is drawn out first, see lineFileFromTemplate.
 * @throws InputError for a field that breaks the schema, ids used twice or unknown, latitude and longitude swapped,
 * hardware and conductor ends that cannot belong to their tower, sags and lengths beyond what is possible
 */
export function lineModelFromFile(json: unknown, file: string, frame: LocalFrame): LineModel {
  const found = lineFileOf(json, file);
  refuseRepeatedIds(found, file);
  const checks = new PlaceChecks(found, file, frame);
  return {
    name: found.name,
    owner: found.owner,
    voltageKv: found.voltageKv,
    structures: found.structures.map((s, i): Structure => {
      checks.nearOrigin(s.positionLlh, `structures.${i}.positionLlh`);
      const { id, kind, heightM, sigmaM } = s;
      return { id, kind, footEnuM: frame.enuFromLlh(s.positionLlh), heightM, sigmaM };
    }),
    components: [
      ...found.components.map((c, i) => hardware(c, `components.${i}`, checks, frame)),
      ...found.conductors.map((c, i) => conductor(c, `conductors.${i}`, checks, frame)),
    ],
  };
}

/** The checked content of a line file of either format, drawn out where it is a template. */
export function lineFileOf(json: unknown, file: string): LineFile {
  const isTemplate = (json as { format?: unknown } | null)?.format === 'corposant-line-template';
  return isTemplate
    ? lineFileFromTemplate(parseWith(lineTemplateFile, json, file), file)
    : parseWith(lineFile, json, file);
}

function hardware(
  c: LineFile['components'][number],
  field: string,
  checks: PlaceChecks,
  frame: LocalFrame,
): LineComponent {
  const structureIds = checks.structuresOf(c, field);
  for (const [key, llh] of [['startLlh', c.startLlh] as const, ['endLlh', c.endLlh] as const]) {
    checks.nearOrigin(llh, `${field}.${key}`);
    if (structureIds.length === 1) checks.atStructure(llh, structureIds[0], `${field}.${key}`);
  }
  const axisEnuM = [frame.enuFromLlh(c.startLlh), frame.enuFromLlh(c.endLlh)];
  const lengthM = distance(axisEnuM[0], axisEnuM[1]);
  if (lengthM > LONGEST_M[c.kind])
    checks.refuse(
      `${field}.endLlh`,
      `${lengthM.toFixed(1)} m from startLlh`,
      `at most ${LONGEST_M[c.kind]} m (${c.kind})`,
      'Give the two ends of one and the same thing.',
    );
  return {
    id: c.id,
    kind: c.kind,
    structureIds,
    circuit: c.circuit,
    phase: c.phase,
    ...(c.side !== undefined && { side: c.side }),
    axisEnuM,
    radiusM: c.radiusM ?? USUAL_RADIUS_M[c.kind],
    sigmaM: c.sigmaM,
    discs: c.kind === 'insulator string' ? (c.discs ?? 0) : 0,
    bundle: null,
  };
}

function conductor(
  c: LineFile['conductors'][number],
  field: string,
  checks: PlaceChecks,
  frame: LocalFrame,
): LineComponent {
  const from = checks.structure(c.fromStructureId, `${field}.fromStructureId`);
  const to = checks.structure(c.toStructureId, `${field}.toStructureId`);
  if (from === to)
    checks.refuse(`${field}.toStructureId`, `"${to.id}" again`, 'another structure', 'Name the two ends of the span.');
  checks.nearOrigin(c.startLlh, `${field}.startLlh`);
  checks.nearOrigin(c.endLlh, `${field}.endLlh`);
  const span = localFrameAt(c.startLlh).enuFromLlh(c.endLlh);
  const spanM = Math.hypot(span[0], span[1]);
  if (!(spanM >= 1 && spanM <= LONGEST_SPAN_M))
    checks.refuse(
      `${field}.endLlh`,
      `${spanM.toFixed(1)} m from startLlh`,
      `1 to ${LONGEST_SPAN_M} m, measured level`,
      'Give the two ends of the wire.',
    );
  checks.atStructure(c.startLlh, from.id, `${field}.startLlh`);
  checks.atStructure(c.endLlh, to.id, `${field}.endLlh`);
  if (c.sagM > spanM / 2)
    checks.refuse(
      `${field}.sagM`,
      `${c.sagM}`,
      `at most half the span (${(spanM / 2).toFixed(1)} m)`,
      'Give the sag in metres below the middle of the chord.',
    );
  if (c.bundle.count > 1 && !(c.bundle.spacingM > 2 * c.bundle.radiusM))
    checks.refuse(
      `${field}.bundle.spacingM`,
      `${c.bundle.spacingM}`,
      'more than two radii between the sub-conductors of a bundle',
      'Give the distance between neighbouring sub-conductors, centre to centre, in metres.',
    );
  return {
    id: c.id,
    kind: c.kind === 'phase' ? 'conductor' : 'earth wire',
    structureIds: [from.id, to.id],
    circuit: c.circuit,
    phase: c.phase,
    axisEnuM: conductorAxis(c.startLlh, c.endLlh, c.sagM, frame),
    radiusM: bundleRadius(c.bundle),
    // Its ends move with the towers, its middle with the sag as well.
    sigmaM: Math.hypot(c.sagSigmaM, Math.max(from.sigmaM, to.sigmaM)),
    discs: 0,
    bundle: c.bundle,
  };
}

/** Of the circle around a bundle: neighbours `spacingM` apart on a regular polygon, plus the wire itself. */
export const bundleRadius = ({ count, spacingM, radiusM }: LineFile['conductors'][number]['bundle']): number =>
  count === 1 ? radiusM : spacingM / (2 * Math.sin(Math.PI / count)) + radiusM;

function refuseRepeatedIds(found: LineFile, file: string): void {
  for (const lists of [['structures'] as const, ['components', 'conductors'] as const]) {
    const seen = new Map<string, string>();
    for (const list of lists)
      found[list].forEach(({ id }, i) => {
        const field = `${list}.${i}.id`;
        const first = seen.get(id);
        if (first !== undefined)
          throw new InputError({
            file,
            field,
            found: `"${id}", which ${first} has too`,
            expected: 'an id of its own',
            todo: 'Findings are told apart by these ids; make each of them different.',
          });
        seen.set(id, field);
      });
  }
}

/** What can be said of a place only with the rest of the file at hand. */
class PlaceChecks {
  private readonly file: string;
  private readonly frame: LocalFrame;
  private readonly structures: ReadonlyMap<string, LineFile['structures'][number]>;
  private readonly spans: ReadonlyMap<string, readonly [string, string]>;

  constructor(found: LineFile, file: string, frame: LocalFrame) {
    this.file = file;
    this.frame = frame;
    this.structures = new Map(found.structures.map((s) => [s.id, s]));
    const spans = new Map<string, readonly [string, string]>();
    for (const { id, fromStructureId: from, toStructureId: to } of found.conductors) {
      spans.set(id, [from, to]);
      spans.set(`${from}..${to}`, [from, to]);
      spans.set(`${to}..${from}`, [from, to]);
    }
    this.spans = spans;
  }

  refuse(field: string, found: string, expected: string, todo: string): never {
    throw new InputError({ file: this.file, field, found, expected, todo });
  }

  structure(id: string, field: string): LineFile['structures'][number] {
    const structure = this.structures.get(id);
    if (structure) return structure;
    return this.refuse(field, `"${id}"`, 'the id of one of the structures', 'Add the structure or correct the id.');
  }

  structuresOf(c: LineFile['components'][number], field: string): readonly string[] {
    if ((c.structureId === undefined) === (c.spanId === undefined))
      this.refuse(
        field,
        c.structureId === undefined ? 'neither structureId nor spanId' : 'both structureId and spanId',
        'one of the two',
        'Name the tower it hangs on, or the span it sits in.',
      );
    if (c.structureId !== undefined) return [this.structure(c.structureId, `${field}.structureId`).id];
    const span = this.spans.get(c.spanId as string);
    if (span) return span;
    return this.refuse(
      `${field}.spanId`,
      `"${c.spanId}"`,
      'the id of a conductor, or the ids of the two structures of a span joined by ".."',
      'Add the conductor or correct the id.',
    );
  }

  nearOrigin(llh: Llh, field: string): void {
    const away = distance(this.frame.enuFromLlh(llh), [0, 0, 0]);
    if (away <= FARTHEST_FROM_ORIGIN_M) return;
    const [lon, lat, height] = llh;
    const swapped = Math.abs(lon) <= 90 && distance(this.frame.enuFromLlh([lat, lon, height]), [0, 0, 0]);
    const [originLon, originLat] = this.frame.originLlh;
    this.refuse(
      field,
      `[${lon}, ${lat}], ${Math.round(away / 1000)} km from the campaign at [${originLon}, ${originLat}]`,
      `[longitude, latitude, height] within ${FARTHEST_FROM_ORIGIN_M / 1000} km of it`,
      swapped !== false && swapped <= FARTHEST_FROM_ORIGIN_M
        ? 'Latitude and longitude are swapped: longitude comes first.'
        : 'Check that the line and the flight belong together.',
    );
  }

  atStructure(llh: Llh, structureId: string, field: string): void {
    const structure = this.structure(structureId, field);
    const [e, n, u] = localFrameAt(structure.positionLlh).enuFromLlh(llh);
    const outM = Math.hypot(e, n);
    if (outM > WIDEST_ARM_M)
      this.refuse(
        field,
        `${outM.toFixed(1)} m from the foot of structure "${structureId}", measured level`,
        `at most ${WIDEST_ARM_M} m`,
        'Name the structure that it hangs on, or correct the coordinates.',
      );
    if (u < -BELOW_FOOT_M || u > structure.heightM + ABOVE_TOP_M)
      this.refuse(
        field,
        `${u.toFixed(1)} m above the foot of structure "${structureId}", which is ${structure.heightM} m high`,
        `${-BELOW_FOOT_M} to ${structure.heightM + ABOVE_TOP_M} m`,
        'Give all heights above the ellipsoid; a shift of some ten metres is the geoid, left out or added twice.',
      );
  }
}
