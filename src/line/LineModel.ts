import type { Vec3 } from '../maths/vec3.ts';

export const COMPONENT_KINDS = [
  'insulator string',
  'clamp',
  'ring',
  'joint',
  'spacer',
  'damper',
  'conductor',
  'earth wire',
] as const;
export type ComponentKind = (typeof COMPONENT_KINDS)[number];

/** A tower. Positions in the campaign's local east-north-up frame. */
export interface Structure {
  readonly id: string;
  readonly kind: 'suspension' | 'tension';
  readonly footEnuM: Vec3;
  readonly heightM: number;
  readonly sigmaM: number;
}

/**
 * A thing on the line at which a discharge may sit: a polyline axis (two points for hardware, many for a conductor,
 * whose catenary is sampled) with a radius, uncertain by `sigmaM` as a whole.
 */
export interface LineComponent {
  readonly id: string;
  readonly kind: ComponentKind;
  /** Structure it belongs to, or the two ends of its span. */
  readonly structureIds: readonly string[];
  readonly circuit: string;
  readonly phase: string;
  /** Which side of the structure, in the owner's words ("left", "towards the higher number"), where it is told. */
  readonly side?: string;
  /** Where on the structure it is attached, in the owner's words, where it is told. */
  readonly attachment?: string;
  /** For an insulator string from the cross-arm down; for a conductor from its first structure to its second. */
  readonly axisEnuM: readonly Vec3[];
  readonly radiusM: number;
  readonly sigmaM: number;
  /** Number of discs of an insulator string, 0 elsewhere. */
  readonly discs: number;
  /** Of a conductor, null elsewhere. */
  readonly bundle: { readonly count: number; readonly spacingM: number; readonly radiusM: number } | null;
}

export interface LineModel {
  readonly name: string;
  readonly owner: string;
  readonly voltageKv: number;
  readonly structures: readonly Structure[];
  readonly components: readonly LineComponent[];
}
