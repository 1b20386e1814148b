import type { GreyFrame } from '../../camera/GreyFrame.ts';
import type { FlightDescription } from '../FlightDescription.ts';
import type { StreamName } from './FrameFate.ts';

export interface PoseRow {
  readonly tNs: number;
  readonly latDeg: number;
  readonly lonDeg: number;
  readonly heightM: number;
  readonly rollDeg: number;
  readonly pitchDeg: number;
  readonly headingDeg: number;
  /** North, east, down; empty where not given. */
  readonly velocityNedMps: readonly number[];
  /** North, east, down in metres, roll, pitch, heading in degrees; empty where not given. */
  readonly sigma: readonly number[];
}

export interface IncomingUv {
  readonly kind: 'uv';
  readonly tNs: number;
  readonly exposureNs: number;
  readonly gain: number;
  /** As they came in, for the account. */
  readonly bytes: number;
  /** Memory of its own. @throws InputError where it cannot be read */
  read(): Promise<GreyFrame>;
}

export interface IncomingColour {
  readonly kind: 'colour';
  readonly tNs: number;
  readonly exposureNs: number;
  readonly bytes: number;
  /** The image file as it came. @throws InputError where it cannot be read */
  read(): Promise<{ readonly format: 'jpeg' | 'png'; readonly bytes: Uint8Array }>;
}

/** What a stream gives, in the order in which it comes in. */
export type IncomingItem =
  | IncomingUv
  | IncomingColour
  | { readonly kind: 'pose'; readonly row: PoseRow }
  /** A frame of which not even stamp or exposure could be read. */
  | { readonly kind: 'unreadable'; readonly stream: StreamName; readonly what: string }
  /** A row of the trajectory that could not be read. */
  | { readonly kind: 'lost pose'; readonly what: string }
  /** Something that the record should tell, such as how the stream ended. */
  | { readonly kind: 'note'; readonly text: string }
  /** Nothing came for a moment: time to put on the disk what is held. */
  | { readonly kind: 'pause' };

export interface Incoming {
  readonly description: FlightDescription;
  items(): AsyncIterable<IncomingItem>;
}
