import type { RigidTransform } from '../maths/rigidTransform.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { FlightPath } from './FlightPath.ts';
import type { IslandFrame } from './islandFrame.ts';
import type { TrueLens } from './TrueLens.ts';
import type { Unevenness } from './unevenness.ts';
import type { Wobble } from './Wobble.ts';

export interface WorldOptions {
  /** Compact: 640 x 512 uv, spans near 112 m, about 90 s. Full: 1280 x 1024 at 16 bit, spans of 300 m, several minutes. */
  readonly size: 'compact' | 'full';
  /** Default 5 (compact) or 25 (full). */
  readonly colourRateHz?: number;
  /** What the colour camera sees of the bench's target beside its lamps. Default: discs. */
  readonly board?: BoardKind;
  /** Default 1. In the second the same rig flies the same line again, whose discharges have changed. */
  readonly year?: 1 | 2;
  /** Default: no. An ultraviolet camera that does not see a point of light equally well all over its picture. */
  readonly uneven?: boolean;
}

export type BoardKind = 'discs' | 'rings' | 'chessboard' | 'coded board';

/** All that the seed decides. Angles in radians, positions in east-north-up of `frame`, times in seconds of the recording. */
export interface World {
  readonly seed: number;
  readonly options: WorldOptions;
  readonly frame: IslandFrame;
  readonly rig: InventedRig;
  readonly line: InventedLine;
  readonly flight: InventedFlight;
  readonly bench: InventedBench;
}

export interface InventedRig {
  /** The content of rig.json: what its owner believes. */
  readonly nominal: NominalRig;
  readonly uvLens: TrueLens;
  readonly colourLens: TrueLens;
  readonly colourFromUv: RigidTransform;
  readonly bodyFromUv: RigidTransform;
  /** To add to a camera stamp to be at the right place of the trajectory. */
  readonly timeOffsetS: number;
  /** True mean charge over the one of the gain curve. */
  readonly gainFactor: number;
  /** Of the ultraviolet camera; null where it sees alike all over. */
  readonly unevenness: Unevenness | null;
}

export interface NominalRig {
  readonly format: 'corposant-rig';
  readonly version: 1;
  readonly id: string;
  readonly cameras: {
    readonly uv: NominalCamera & {
      readonly bitDepth: 8 | 16;
      readonly spotSigmaPx: number;
      readonly blurSigmaPx: number;
      readonly saturationLevel: number;
      readonly gainCurve: readonly { readonly gain: number; readonly meanChargeDn: number }[];
      readonly apertureMm: number;
      readonly bandNm: readonly [number, number];
      readonly eventsPerPhoton: number;
    };
    readonly colour: NominalCamera & { readonly bitDepth: 8 };
  };
  readonly pair: { readonly colourInUvM: Vec3; readonly sigmaM: number; readonly rotationSigmaDeg: number };
  readonly mounting: {
    readonly uvInBodyM: Vec3;
    readonly leverArmSigmaM: number;
    readonly yawDeg: number;
    readonly pitchDeg: number;
    readonly rollDeg: number;
    readonly boresightSigmaDeg: number;
    readonly timeOffsetSigmaMs: number;
  };
}

export interface NominalCamera {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly pixelPitchUm: number;
  readonly focalMm: number;
  readonly focalSigmaMm: number;
  readonly shutter: 'global';
}

export interface InventedStructure {
  readonly id: string;
  readonly kind: 'suspension' | 'tension';
  readonly footEnuM: Vec3;
  readonly nominalFootEnuM: Vec3;
  readonly sigmaM: number;
  readonly heightM: number;
  /** Heights above the foot and half-widths of the cross-arms, lowest first. */
  readonly arms: readonly { readonly levelM: number; readonly halfWidthM: number }[];
  /** Unit vector to the right of the line, horizontal. */
  readonly rightEnu: Vec3;
}

export type HardwareKind = 'insulator string' | 'clamp' | 'ring' | 'joint' | 'spacer' | 'damper';

export interface InventedComponent {
  readonly id: string;
  readonly kind: HardwareKind;
  readonly structureId: string | null;
  readonly spanId: string | null;
  readonly circuit: string;
  readonly phase: string;
  readonly side: 'left' | 'right';
  readonly startEnuM: Vec3;
  readonly endEnuM: Vec3;
  readonly nominalShiftM: Vec3;
  readonly sigmaM: number;
  readonly discs: number;
  readonly radiusM: number;
  /** Of the conductor it sits on or ends, for drawing. */
  readonly alongEnu: Vec3;
}

export interface InventedConductor {
  readonly id: string;
  readonly kind: 'phase' | 'earth';
  readonly fromStructureId: string;
  readonly toStructureId: string;
  readonly circuit: string;
  readonly phase: string;
  readonly startEnuM: Vec3;
  readonly endEnuM: Vec3;
  readonly sagM: number;
  readonly nominal: { readonly startEnuM: Vec3; readonly endEnuM: Vec3; readonly sagM: number };
  readonly sagSigmaM: number;
  readonly bundle: { readonly count: number; readonly spacingM: number; readonly radiusM: number };
}

export interface InventedLine {
  readonly name: string;
  readonly owner: string;
  readonly voltageKv: number;
  readonly structures: readonly InventedStructure[];
  readonly components: readonly InventedComponent[];
  readonly conductors: readonly InventedConductor[];
  /** Loops that carry the current past a tension tower; drawn, not listed. */
  readonly jumpers: readonly { readonly startEnuM: Vec3; readonly endEnuM: Vec3; readonly sagM: number }[];
}

export interface InventedConditions {
  readonly temperatureC: number;
  readonly pressureHPa: number;
  readonly relativeHumidityPct: number;
  readonly ozonePpb: number;
}

export interface Mains {
  readonly meanHz: number;
  readonly phaseRad: number;
  /** Of the phase, radians: the wandering of the grid. */
  readonly wander: Wobble;
}

export interface Discharge {
  readonly kind: 'discharge';
  readonly id: string;
  readonly componentId: string;
  readonly positionEnuM: Vec3;
  /** In band, into the full sphere, mean over time. */
  readonly photonRateHz: number;
  readonly pulsesPerHalfCycle: number;
  /** Share of the light that comes around the positive crest. */
  readonly positiveShare: number;
  /** 1 sigma of the instants of the pulses around the crest. */
  readonly phaseSpreadRad: number;
  /** Logarithm of the slow flicker. */
  readonly flicker: Wobble;
  readonly flickerSd: number;
  readonly note: string;
}

export type Trap =
  | {
      readonly kind: 'trap';
      readonly trap: 'moving source';
      readonly id: string;
      readonly startEnuM: Vec3;
      readonly velocityMps: Vec3;
      readonly atS: number;
      readonly photonRateHz: number;
      readonly note: string;
    }
  | {
      readonly kind: 'trap';
      readonly trap: 'sun glint';
      readonly id: string;
      readonly conductorId: string;
      /** Direction from the camera to the glint, horizontal: clockwise from north. */
      readonly azimuthRad: number;
      readonly fromS: number;
      readonly toS: number;
      readonly eventsPerS: number;
      readonly note: string;
    }
  | {
      readonly kind: 'trap';
      readonly trap: 'cosmic ray';
      readonly id: string;
      readonly frame: number;
      readonly fromPx: readonly [number, number];
      readonly toPx: readonly [number, number];
      /** In mean charges of one photon event. */
      readonly charge: number;
      readonly note: string;
    }
  | {
      readonly kind: 'trap';
      readonly trap: 'hot pixel';
      readonly id: string;
      readonly atPx: readonly [number, number];
      readonly onS: readonly (readonly [number, number])[];
      readonly levelDn: number;
      readonly note: string;
    };

/** What really became of a discharge of the first year, or that it is new. */
export interface TrueChange {
  readonly id: string;
  readonly positionEnuM: Vec3;
  readonly componentId: string;
  readonly change: 'unchanged' | 'grown' | 'faded' | 'gone' | 'new' | 'not flown';
  /** On its light; null for a new one. */
  readonly factor: number | null;
}

export interface FrameTimes {
  /** What the index says. */
  readonly tNs: Float64Array;
  readonly exposureNs: number;
}

export interface InventedFlight {
  readonly name: string;
  readonly epochUtc: string;
  readonly path: FlightPath;
  readonly conditions: InventedConditions;
  readonly uvTimes: FrameTimes;
  readonly colourTimes: FrameTimes;
  readonly uvRateHz: number;
  readonly colourRateHz: number;
  readonly passes: readonly { readonly fromS: number; readonly toS: number }[];
  readonly gain: { readonly before: number; readonly after: number; readonly stepAtS: number };
  readonly mains: Mains;
  readonly sources: readonly (Discharge | Trap)[];
  /** Of the second year, against the first. */
  readonly changes?: readonly TrueChange[];
  readonly darkEventsPerFrame: number;
  readonly daylightEventsPerFrame: number;
  readonly sunAzimuthRad: number;
  readonly sunElevationRad: number;
}

export interface BenchMark {
  readonly id: string;
  readonly lampM: Vec3;
  readonly discM: Vec3;
  readonly discDiameterM: number;
}

export interface BenchSweep {
  readonly name: string;
  readonly fromS: number;
  readonly toS: number;
  readonly meanRangeM: number;
  readonly statedRangeM: number;
  readonly rangeSigmaM: number;
  readonly gain: number;
  /** Tangents of the direction to the board, tilts, and the relative change of its range. */
  readonly motion: Readonly<Record<'x' | 'y' | 'yaw' | 'pitch' | 'roll' | 'range', Wobble>>;
  readonly reach: readonly [number, number];
}

export interface InventedBench {
  readonly name: string;
  readonly board: BoardKind;
  readonly epochUtc: string;
  readonly rateHz: number;
  readonly boardSizeM: readonly [number, number];
  /** True places on the board, and the ones that bench.json states. */
  readonly marks: readonly BenchMark[];
  readonly statedMarks: readonly BenchMark[];
  readonly marksSigmaM: number;
  readonly sweeps: readonly BenchSweep[];
  readonly uvTimes: FrameTimes;
  readonly colourTimes: FrameTimes;
  /** Photon events of one lamp in one exposure at 1 m. */
  readonly lampEventsAt1M: number;
}
