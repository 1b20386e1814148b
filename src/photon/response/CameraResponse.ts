import type { ChargeByLamp } from './chargeByLamp.ts';
import type { ChargeLaw } from './chargeLaw.ts';
import type { CountLinearity } from './countLinearity.ts';
import type { FlatFieldMeasurement } from './flatField.ts';

/** What shone while frames were taken: nothing, light spread evenly, a steady lamp, or whatever there was (a flight). */
export type Light = 'none' | 'even' | 'lamp' | 'as it came';

export interface EventRate {
  readonly gain: number;
  readonly exposureS: number;
  readonly light: Exclude<Light, 'lamp'>;
  readonly frames: number;
  /** Photon events above the cut, without afterglow, hot pixels and particles. */
  readonly events: number;
  /** Per second of exposure, those below the cut made up for; with the 95 % interval: the exact one of the count, widened by what is not known of that share. */
  readonly perS: number;
  readonly lowerPerS: number;
  readonly upperPerS: number;
  /** Share of all events whose charge is above the cut at this gain, by the law of their charges; only those were counted. */
  readonly countedShare: number;
}

export interface GainCharge {
  readonly gain: number;
  readonly law: ChargeLaw;
  /** By the rig's gain curve, DN. */
  readonly byCurveDn: number;
}

/** Intensifier and sensor as measured: how much charge an event has, how many there are in the dark, how even and how proportional. */
export interface CameraResponse {
  readonly gains: readonly GainCharge[];
  readonly lamp: ChargeByLamp | null;
  /** Mean charge of a single event, by its own charges where they can be measured, else by the lamp; rising gain. */
  readonly gainCurve: readonly { readonly gain: number; readonly meanChargeDn: number; readonly sigmaDn: number }[];
  /** One factor on the rig's gain curve, and the chance of gains that differ from it more; null where nothing was measured. */
  readonly againstCurve: { readonly factor: number; readonly sigma: number; readonly sameShapeChance: number } | null;
  readonly rates: readonly EventRate[];
  readonly linearity: readonly { readonly gain: number; readonly counts: CountLinearity }[];
  /** Of even light. */
  readonly flatField: FlatFieldMeasurement | null;
  /** The same of the events of a flight, whose light need not be even: a map, not a response. */
  readonly background: FlatFieldMeasurement | null;
  /** Events with a charge below this are not all found, DN. */
  readonly cutDn: number;
}
