import { type LocalFrame, localFrameAt } from '../earth/LocalFrame.ts';
import { catenaryFromParameter, catenaryFromTension, sagAtMiddle, sagThroughPoints } from './catenary.ts';
import { conductorAxis, spanPlane } from './conductorAxis.ts';
import type { LineComponent } from './LineModel.ts';
import type { LineFile } from './lineFile.ts';
import type { PlaceChecks } from './PlaceChecks.ts';

type ConductorOfFile = LineFile['conductors'][number];

const LONGEST_SPAN_M = 6000;
/** Measured points farther than this from the plane of the wire, or from its curve, are not of this wire. */
const BESIDE_WIRE_M = 3;
const WORST_FIT_M = 0.5;

/**
 * One conductor of a line file, checked and hung.
 * @param field its place in the file, for messages
 * @throws InputError, see lineModelFromFile
 */
export function conductorFromFile(
  c: ConductorOfFile,
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
    axisEnuM: conductorAxis(c.startLlh, c.endLlh, sagOf(c, field, checks), frame),
    radiusM: bundleRadius(c.bundle),
    // Its ends move with the towers, its middle with the sag as well.
    sigmaM: Math.hypot(c.sagSigmaM, c.sigmaM ?? Math.max(from.sigmaM, to.sigmaM)),
    discs: 0,
    bundle: c.bundle,
  };
}

/** Of the circle around a bundle: neighbours `spacingM` apart on a regular polygon, plus the wire itself. */
export const bundleRadius = ({ count, spacingM, radiusM }: LineFile['conductors'][number]['bundle']): number =>
  count === 1 ? radiusM : spacingM / (2 * Math.sin(Math.PI / count)) + radiusM;

function sagOf(c: ConductorOfFile, field: string, checks: PlaceChecks): number {
  const given = (['sagM', 'parameterM', 'horizontalTensionN', 'wirePointsLlh'] as const).filter(
    (key) => c[key] !== undefined,
  );
  if (given.length !== 1)
    checks.refuse(
      field,
      given.length === 0 ? 'neither sagM nor parameterM nor horizontalTensionN nor wirePointsLlh' : given.join(' and '),
      'one of sagM, parameterM, horizontalTensionN and wirePointsLlh',
      'Say in one way how the wire hangs.',
    );
  if ((c.horizontalTensionN === undefined) !== (c.weightNPerM === undefined))
    checks.refuse(
      field,
      c.weightNPerM === undefined ? 'horizontalTensionN without weightNPerM' : 'weightNPerM without horizontalTensionN',
      'both, or neither',
      'Give the weight of the wire per metre with its tension.',
    );
  const { spanM, riseM, pointIn } = spanPlane(c.startLlh, c.endLlh);
  if (c.parameterM !== undefined) return sagAtMiddle(catenaryFromParameter(spanM, riseM, c.parameterM));
  if (c.horizontalTensionN !== undefined && c.weightNPerM !== undefined)
    return sagAtMiddle(catenaryFromTension(spanM, riseM, c.horizontalTensionN, c.weightNPerM));
  if (c.wirePointsLlh) {
    const points = c.wirePointsLlh.map((llh, i) => {
      const { xM, zM, besideM } = pointIn(llh);
      if (Math.abs(besideM) > BESIDE_WIRE_M || !(xM > 0 && xM < spanM))
        checks.refuse(
          `${field}.wirePointsLlh.${i}`,
          `a point ${besideM.toFixed(1)} m beside the wire and ${xM.toFixed(1)} m along it`,
          `at most ${BESIDE_WIRE_M} m beside it and between its ends (0 to ${spanM.toFixed(1)} m)`,
          'Give points on this wire alone.',
        );
      return [xM, zM] as const;
    });
    const fit = sagThroughPoints(spanM, riseM, points);
    if (fit.kind === 'refused' || fit.rmsM > WORST_FIT_M)
      return checks.refuse(
        `${field}.wirePointsLlh`,
        fit.kind === 'refused' ? fit.because : `points ${fit.rmsM.toFixed(2)} m off the best hanging wire (rms)`,
        `points within ${WORST_FIT_M} m of a wire that hangs between startLlh and endLlh`,
        'Check that the points belong to this wire and that the ends are right.',
      );
    return fit.sagM;
  }
  const sagM = c.sagM as number;
  if (sagM > spanM / 2)
    checks.refuse(
      `${field}.sagM`,
      `${sagM}`,
      `at most half the span (${(spanM / 2).toFixed(1)} m)`,
      'Give the sag in metres below the middle of the chord.',
    );
  return sagM;
}
