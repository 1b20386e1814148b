import type { Llh } from '../earth/Llh.ts';
import { type LocalFrame, localFrameAt } from '../earth/LocalFrame.ts';
import { llhFromProjected, PROJECTED_SYSTEMS, projectedFromLlh, utmCodeAt } from '../earth/projected.ts';
import { InputError } from '../input/InputError.ts';
import { distance } from '../maths/vec3.ts';
import type { LineFile } from './lineFile.ts';

/** Farther from the campaign's origin than this is another line, or swapped coordinates. */
const FARTHEST_FROM_ORIGIN_M = 300_000;
/** Chance would have to be great for another zone to put a line so near to its flight. */
const ZONE_SLIP_WITHIN_M = 60_000;
/** Widest cross-arm, metres from the foot of a tower, and how far hardware may reach above or below it. */
const WIDEST_ARM_M = 60;
const ABOVE_TOP_M = 15;
const BELOW_FOOT_M = 10;

const GEOID_REMEDY =
  'Give all heights above the ellipsoid; a shift of some ten metres is the geoid, left out or added twice.';

/** What can be said of a place only with the rest of the file at hand. */
export class PlaceChecks {
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
        : (this.zoneSlip(llh) ?? 'Check that the line and the flight belong together.'),
    );
  }

  /** Whether the eastings and northings behind a place were read in a zone beside their own. */
  private zoneSlip([lon, lat, height]: Llh): string | null {
    const [originLon, originLat] = this.frame.originLlh;
    const own = utmCodeAt(originLon, originLat);
    for (const k of [-2, -1, 1, 2]) {
      const other = `EPSG:${Number(own.slice(5)) + k}`;
      if (!PROJECTED_SYSTEMS.has(other)) continue;
      const [lonThere, latThere] = llhFromProjected(own, ...projectedFromLlh(other, lon, lat));
      if (distance(this.frame.enuFromLlh([lonThere, latThere, height]), [0, 0, 0]) < ZONE_SLIP_WITHIN_M)
        return `The coordinates look read in ${other}, and are of the zone beside, ${own}.`;
    }
    return null;
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
        GEOID_REMEDY,
      );
  }

  /** That a thing in a span is beside the way from one tower to the other, and neither under the ground nor in the sky. */
  inSpan(llh: Llh, [a, b]: readonly [string, string], field: string): void {
    const from = this.structure(a, field);
    const to = this.structure(b, field);
    const here = localFrameAt(from.positionLlh);
    const [toE, toN, toU] = here.enuFromLlh(to.positionLlh);
    const [e, n, u] = here.enuFromLlh(llh);
    const length2 = toE * toE + toN * toN;
    const at = length2 > 0 ? Math.max(0, Math.min(1, (e * toE + n * toN) / length2)) : 0;
    const outM = Math.hypot(e - at * toE, n - at * toN);
    if (outM > WIDEST_ARM_M)
      this.refuse(
        field,
        `${outM.toFixed(1)} m beside the span from "${a}" to "${b}"`,
        `at most ${WIDEST_ARM_M} m`,
        'Name the span that it sits in, or correct the coordinates.',
      );
    // Over a valley the wire may hang below both feet, by the sag of a slack wire (parameter 800 m) at most.
    const bottomM = Math.min(0, toU) - BELOW_FOOT_M - length2 / (8 * 800);
    const topM = Math.max(from.heightM, toU + to.heightM) + ABOVE_TOP_M;
    if (u < bottomM || u > topM)
      this.refuse(
        field,
        `${u.toFixed(1)} m above the foot of structure "${a}"`,
        `${bottomM.toFixed(1)} to ${topM.toFixed(1)} m`,
        GEOID_REMEDY,
      );
  }
}
