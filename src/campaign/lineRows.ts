import { localFrameAt } from '../earth/LocalFrame.ts';
import type { LineComponent, LineModel } from '../line/LineModel.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { lineStringZ, pointZ } from './geopackageGeometry.ts';
import type { Llh } from './records.ts';
import type { Row } from './tableRows.ts';

/** Feature rows of a line model: what a GIS shows. The model itself is kept beside them, to the last digit. */
export interface LineRows {
  readonly structures: readonly Row[];
  readonly components: readonly Row[];
  readonly conductors: readonly Row[];
}

const isWire = ({ kind }: LineComponent): boolean => kind === 'conductor' || kind === 'earth wire';

export function lineRows(line: LineModel, originLlh: Llh): LineRows {
  const frame = localFrameAt(originLlh);
  const axis = (pointsEnuM: readonly Vec3[]) => lineStringZ(pointsEnuM.map((point) => frame.llhFromEnu(point)));
  const shared = (component: LineComponent): Row => ({
    geom: axis(component.axisEnuM),
    id: component.id,
    kind: component.kind,
    structures: component.structureIds.join(' '),
    circuit: component.circuit,
    phase: component.phase,
    radius_m: component.radiusM,
    sigma_m: component.sigmaM,
  });
  return {
    structures: line.structures.map((structure) => ({
      geom: pointZ(frame.llhFromEnu(structure.footEnuM)),
      id: structure.id,
      kind: structure.kind,
      height_m: structure.heightM,
      sigma_m: structure.sigmaM,
    })),
    components: line.components
      .filter((component) => !isWire(component))
      .map((component) => ({ ...shared(component), discs: component.discs })),
    conductors: line.components.filter(isWire).map((component) => ({
      ...shared(component),
      subconductors: component.bundle?.count ?? null,
      spacing_m: component.bundle?.spacingM ?? null,
    })),
  };
}
