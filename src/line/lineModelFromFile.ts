import type { LocalFrame } from '../earth/LocalFrame.ts';
import { InputError } from '../input/InputError.ts';
import { parseWith } from '../input/parseWith.ts';
import { distance } from '../maths/vec3.ts';
import { conductorFromFile } from './conductorFromFile.ts';
import type { LineComponent, LineModel, Structure } from './LineModel.ts';
import { type LineFile, lineFile } from './lineFile.ts';
import { lineFileFromGeoJson } from './lineFileFromGeoJson.ts';
import { lineFileFromTemplate } from './lineFileFromTemplate.ts';
import { lineTemplateFile } from './lineTemplateFile.ts';
import { PlaceChecks } from './PlaceChecks.ts';

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

/**
 * Checks a parsed `line.json` and turns it into a line model in the campaign's frame. A file of tower positions and kinds
 * of tower (format "corposant-line-template") is drawn out first, see lineFileFromTemplate; GeoJSON is read through
 * lineFileFromGeoJson.
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
      ...found.conductors.map((c, i) => conductorFromFile(c, `conductors.${i}`, checks, frame)),
    ],
  };
}

/** The checked content of a line file of any of the formats, a template drawn out. */
export function lineFileOf(json: unknown, file: string): LineFile {
  const said = json as { format?: unknown; type?: unknown } | null;
  if (said?.format === 'corposant-line-template')
    return lineFileFromTemplate(parseWith(lineTemplateFile, json, file), file);
  return parseWith(lineFile, said?.type === 'FeatureCollection' ? lineFileFromGeoJson(json, file) : json, file);
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
    const [a, b] = structureIds;
    if (b === undefined) checks.atStructure(llh, a, `${field}.${key}`);
    else checks.inSpan(llh, [a, b], `${field}.${key}`);
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
    ...(c.attachment !== undefined && { attachment: c.attachment }),
    axisEnuM,
    radiusM: c.radiusM ?? USUAL_RADIUS_M[c.kind],
    sigmaM: c.sigmaM,
    discs: c.kind === 'insulator string' ? (c.discs ?? 0) : 0,
    bundle: null,
  };
}

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
