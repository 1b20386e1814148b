import type { ComponentKind } from '../../line/LineModel.ts';
import type { Mat3 } from '../../maths/mat3.ts';
import type { Vec3 } from '../../maths/vec3.ts';
import type { PhotonRate } from '../PhotonRate.ts';

/** A finding as the comparison needs it; positions and covariances of both campaigns in one frame. */
export interface ComparedFinding {
  readonly id: string;
  readonly positionEnuM: Vec3;
  readonly covarianceEnuM2: Mat3;
  readonly componentId: string | null;
  readonly componentKind: ComponentKind | null;
  /** Level unit vector along the span or line at its place, for what hangs in a span and moves across it. */
  readonly alongEnu: Vec3 | null;
  /** Candidates with their probabilities; null stands for none of the components. */
  readonly candidates: readonly { readonly componentId: string | null; readonly probability: number }[];
  readonly rate: PhotonRate;
  readonly weather: 'dry' | 'rain' | 'fog';
  /** Content hash of the rig that saw it: of one and the same rig the efficiency cancels in a ratio. */
  readonly rigHash: string;
  readonly rejected: boolean;
}

/** What a campaign saw of a component: the weakest discharge that it would have found there with 95 %. */
export type Limit =
  | { readonly kind: 'limit'; readonly limitHz: number }
  | { readonly kind: 'not seen' }
  /** The component is not in that campaign's line model, or there is no component. */
  | { readonly kind: 'unknown' };

export interface ComparedCampaign {
  readonly findings: readonly ComparedFinding[];
  limitAt(componentId: string | null): Limit;
  /** Sightings that were kept out of the findings, with the reason. */
  readonly keptOut: readonly { readonly positionEnuM: Vec3; readonly because: string }[];
  /** Weather of the flights; 'mixed' where they differ. */
  readonly weather: 'dry' | 'rain' | 'fog' | 'mixed';
}
