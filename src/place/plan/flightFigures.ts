import type { Lens } from '../../camera/Lens.ts';
import type { LineModel } from '../../line/LineModel.ts';
import { trace } from '../../maths/mat3.ts';
import type { Mounting } from '../../rig/Mounting.ts';
import { coverComponents } from '../coverComponents.ts';
import type { SystematicErrors } from '../SystematicErrors.ts';
import { type ErrorBudget, errorBudget } from './errorBudget.ts';
import { type ExpectedPosition, expectedPosition } from './expectedPosition.ts';
import { parallaxPx, rangeNeededM } from './parallax.ts';
import { smearByTurnPx, smearByWayPx } from './smear.ts';
import { virtualPoses } from './virtualPass.ts';

/** The camera pair and what is assumed of the flight, the same for every standoff and speed. */
export interface FlightAssumptions {
  readonly uvLens: Lens;
  readonly colourLens: Lens;
  /** Distance of the two cameras across the view. */
  readonly baselineM: number;
  readonly mounting: Mounting;
  readonly errors: SystematicErrors;
  readonly frameRateHz: number;
  readonly exposureS: number;
  /** Of the colour camera. */
  readonly colourExposureS: number;
  readonly turnRadps: number;
  /** Scatter of the events of a point about its image, px. */
  readonly eventSigmaPx: number;
  /** From the nearest conductor to the farthest hardware that the pass is to see. */
  readonly depthM: number;
  /** Events of a source at the limit of detection, given the frames in view. */
  readonly eventsNeeded: (framesInView: number) => number;
  readonly eventsPerPhotonAt: (rangeM: number) => number;
  readonly leastFrames: number;
}

export interface FlightFigures {
  readonly standoffM: number;
  readonly speedMps: number;
  /** Metres on the line that a pixel of the middle covers. */
  readonly uvSamplingM: number;
  readonly colourSamplingM: number;
  /** What the image covers at the standoff, along the flight and up. */
  readonly uvSwathM: { readonly alongM: number; readonly upM: number };
  readonly colourSwathM: { readonly alongM: number; readonly upM: number };
  /** Shift of the two images against each other, colour px: against infinity at the standoff, and from there to the far side. */
  readonly parallaxAtStandoffPx: number;
  readonly parallaxOverDepthPx: number;
  /** How well a range must be known for an overlay right to 0.3 px. */
  readonly rangeNeededM: number;
  readonly uvSmearPx: number;
  readonly uvSmearByTurnPx: number;
  readonly colourSmearPx: number;
  /** Frames of a pass that have a place at the standoff in view. */
  readonly framesInView: number;
  readonly eventsNeeded: number | null;
  /** Photons per second at the source that one pass finds with 95 %; null: too few frames in view. */
  readonly limitHz: number | null;
  readonly budget: ErrorBudget;
  /** Of a discharge at the limit of detection. */
  readonly onePass: ExpectedPosition;
  readonly bothSides: ExpectedPosition;
}

/** Overlay error that the bench accepts unless told otherwise. */
const OVERLAY_TOLERANCE_PX = 0.3;

/** What one standoff and speed give. */
export function flightFigures(standoffM: number, speedMps: number, with_: FlightAssumptions): FlightFigures {
  const { uvLens, colourLens, mounting, errors, exposureS, frameRateHz } = with_;
  const uvFocalPx = Math.sqrt(uvLens.fxPx * uvLens.fyPx);
  const colourFocalPx = Math.sqrt(colourLens.fxPx * colourLens.fyPx);
  const pass = { standoffM, speedMps, frameRateHz, exposureS, mounting, lens: uvLens };
  const poses = virtualPoses({ ...pass, side: 'north', startNs: 0 });
  const [place] = coverComponents(placeAtOrigin, poses, uvLens, {
    eventsPerPhotonAt: with_.eventsPerPhotonAt,
    eventsNeeded: with_.eventsNeeded,
    leastFrames: with_.leastFrames,
    nearestM: 0.1 * standoffM,
    farthestM: 10 * standoffM,
    frameStep: 1,
  });
  const eventsNeeded = place.framesInView > 0 ? with_.eventsNeeded(place.framesInView) : null;
  const alongIsWide = runsAcrossWidth(poses.uvFromEnu);
  const swath = (lens: Lens): { alongM: number; upM: number } => {
    const wideM = (standoffM * lens.widthPx) / lens.fxPx;
    const highM = (standoffM * lens.heightPx) / lens.fyPx;
    return alongIsWide ? { alongM: wideM, upM: highM } : { alongM: highM, upM: wideM };
  };
  const events = eventsNeeded ?? 2;
  return {
    standoffM,
    speedMps,
    uvSamplingM: standoffM / uvFocalPx,
    colourSamplingM: standoffM / colourFocalPx,
    uvSwathM: swath(uvLens),
    colourSwathM: swath(colourLens),
    parallaxAtStandoffPx: parallaxPx(colourFocalPx, with_.baselineM, standoffM, Number.POSITIVE_INFINITY),
    parallaxOverDepthPx: parallaxPx(colourFocalPx, with_.baselineM, standoffM, standoffM + with_.depthM),
    rangeNeededM: rangeNeededM(colourFocalPx, with_.baselineM, standoffM, OVERLAY_TOLERANCE_PX),
    uvSmearPx: smearByWayPx(uvFocalPx, speedMps, exposureS, standoffM),
    uvSmearByTurnPx: smearByTurnPx(uvFocalPx, with_.turnRadps, exposureS),
    colourSmearPx: smearByWayPx(colourFocalPx, speedMps, with_.colourExposureS, standoffM),
    framesInView: place.framesInView,
    eventsNeeded,
    limitHz: place.limitHz,
    budget: errorBudget({
      rangeM: standoffM,
      speedMps,
      turnRadps: with_.turnRadps,
      focalPx: uvFocalPx,
      gnssM: Math.hypot(errors.positionSigmaEnuM[0], errors.positionSigmaEnuM[1]) / Math.SQRT2,
      tiltRad: Math.max(errors.attitudeSigmaRad.roll, errors.attitudeSigmaRad.pitch),
      headingRad: errors.attitudeSigmaRad.heading,
      boresightRad: Math.sqrt(trace(mounting.boresightCovarianceRad2) / 3),
      leverArmM: Math.sqrt(trace(mounting.leverArmCovarianceM2) / 3),
      timeS: mounting.timeOffsetSigmaNs * 1e-9,
      pixelPx: with_.eventSigmaPx,
    }),
    onePass: expectedPosition(pass, 1, events, with_.eventSigmaPx, errors),
    bothSides: expectedPosition(pass, 2, events, with_.eventSigmaPx, errors),
  };
}

/** Whether a point at rest runs along the image's rows when the camera flies along the line (east). */
const runsAcrossWidth = (uvFromEnu: Float64Array): boolean => Math.abs(uvFromEnu[0]) >= Math.abs(uvFromEnu[3]);

const placeAtOrigin: LineModel = {
  name: '',
  owner: '',
  voltageKv: 0,
  structures: [],
  components: [
    {
      id: 'place',
      kind: 'clamp',
      structureIds: [],
      circuit: '',
      phase: '',
      axisEnuM: [[0, 0, 0]],
      radiusM: 0,
      sigmaM: 0,
      discs: 0,
      bundle: null,
    },
  ],
};
