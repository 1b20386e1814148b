import { protobufFromBinaryDescriptor } from '@mcap/support';
import type { Quaternion } from '../../maths/rotation.ts';

/** What a well-known message says of place and attitude; null where its kind says nothing of it. */
export interface PoseMessage {
  /** Seconds and nanoseconds of its own stamp. */
  readonly stamp: { readonly s: number; readonly ns: number };
  readonly latLonAlt: readonly [number, number, number] | null;
  /** East, north, up, metres², row by row; null where it is not known. */
  readonly covarianceEnuM2: readonly number[] | null;
  readonly position: readonly [number, number, number] | null;
  readonly orientation: Quaternion | null;
}

export type DecodePose = (data: Uint8Array) => PoseMessage;

interface Schema {
  readonly name: string;
  readonly encoding: string;
  readonly data: Uint8Array;
}

/** Kinds of message that are read, by the last part of their names, in all of the encodings below. */
export const POSE_KINDS = [
  'LocationFix',
  'NavSatFix',
  'PoseInFrame',
  'PoseStamped',
  'PoseWithCovarianceStamped',
  'Odometry',
  'Imu',
] as const;

/**
 * How to decode a message, by its schema: foxglove schemas in protobuf or JSON, and the ROS messages of the same sense in
 * their own serialisation (ros1) or CDR (ros2). Fields are found by name through the schema in the file, so that
 * releases of a schema that number them otherwise are read as well; ROS layouts are fixed.
 * @returns null where it is none of them
 */
export function poseDecoder({ name, encoding, data }: Schema): DecodePose | null {
  const kind = POSE_KINDS.find((k) => name.split(/[./]/).pop() === k);
  if (!kind) return null;
  if (encoding === 'protobuf') {
    const type = protobufFromBinaryDescriptor(data).lookupType(name);
    return (bytes) =>
      fromFields(type.toObject(type.decode(bytes), { longs: Number, enums: Number, defaults: true, arrays: true }));
  }
  if (encoding === 'jsonschema') return (bytes) => fromFields(JSON.parse(new TextDecoder().decode(bytes)));
  if (encoding === 'ros1msg') return (bytes) => fromRos(kind, new RosBytes(bytes, 'ros1'));
  if (encoding === 'ros2msg' || encoding === 'ros2idl') return (bytes) => fromRos(kind, new RosBytes(bytes, 'cdr'));
  return null;
}

interface Fields {
  readonly timestamp?: { sec?: number; nsec?: number; seconds?: number; nanos?: number };
  readonly latitude?: number;
  readonly longitude?: number;
  readonly altitude?: number;
  readonly position_covariance?: readonly number[];
  readonly position_covariance_type?: number;
  readonly pose?: { position?: Xyz; orientation?: Xyz & { w?: number } };
}
interface Xyz {
  readonly x?: number;
  readonly y?: number;
  readonly z?: number;
}

function fromFields(found: unknown): PoseMessage {
  const f = found as Fields;
  const { position: p, orientation: q } = f.pose ?? {};
  return {
    stamp: { s: f.timestamp?.seconds ?? f.timestamp?.sec ?? 0, ns: f.timestamp?.nanos ?? f.timestamp?.nsec ?? 0 },
    latLonAlt: f.latitude === undefined ? null : [f.latitude, f.longitude ?? Number.NaN, f.altitude ?? Number.NaN],
    covarianceEnuM2:
      f.position_covariance?.length === 9 && (f.position_covariance_type ?? 0) > 0 ? f.position_covariance : null,
    position: p ? [p.x ?? 0, p.y ?? 0, p.z ?? 0] : null,
    orientation: q ? [q.w ?? 0, q.x ?? 0, q.y ?? 0, q.z ?? 0] : null,
  };
}

/** Fields of a ROS message one after another. Sources: ROS wiki, "msg"; OMG CDR 1.2 (XCDR1), both from memory. */
class RosBytes {
  private readonly view: DataView;
  private readonly cdr: boolean;
  private readonly little: boolean;
  private readonly origin: number;
  private at: number;

  constructor(bytes: Uint8Array, serialisation: 'ros1' | 'cdr') {
    this.view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.cdr = serialisation === 'cdr';
    // The second byte of the four before a CDR message tells the byte order.
    this.little = !this.cdr || (this.view.getUint8(1) & 1) === 1;
    this.origin = this.cdr ? 4 : 0;
    this.at = this.origin;
  }

  private align(size: number): void {
    if (this.cdr) this.at = this.origin + Math.ceil((this.at - this.origin) / size) * size;
  }

  uint32(): number {
    this.align(4);
    this.at += 4;
    return this.view.getUint32(this.at - 4, this.little);
  }

  uint8(): number {
    return this.view.getUint8(this.at++);
  }

  uint16(): number {
    this.align(2);
    this.at += 2;
    return this.view.getUint16(this.at - 2, this.little);
  }

  skipString(): void {
    const length = this.uint32();
    this.at += length;
  }

  doubles(n: number): number[] {
    return Array.from({ length: n }, () => {
      this.align(8);
      this.at += 8;
      return this.view.getFloat64(this.at - 8, this.little);
    });
  }

  /** std_msgs Header: the first of ROS 1 carries a sequence number. */
  header(): { s: number; ns: number } {
    if (!this.cdr) this.uint32();
    const stamp = { s: this.uint32(), ns: this.uint32() };
    this.skipString();
    return stamp;
  }
}

function fromRos(kind: (typeof POSE_KINDS)[number], bytes: RosBytes): PoseMessage {
  const none = { latLonAlt: null, covarianceEnuM2: null, position: null, orientation: null };
  const stamp = bytes.header();
  if (kind === 'NavSatFix' || kind === 'LocationFix') {
    bytes.uint8();
    bytes.uint16();
    const [lat, lon, alt, ...covariance] = bytes.doubles(12);
    return { ...none, stamp, latLonAlt: [lat, lon, alt], covarianceEnuM2: bytes.uint8() > 0 ? covariance : null };
  }
  if (kind === 'Imu') {
    const [x, y, z, w] = bytes.doubles(4);
    return { ...none, stamp, orientation: [w, x, y, z] };
  }
  if (kind === 'Odometry') bytes.skipString();
  const [px, py, pz, x, y, z, w] = bytes.doubles(7);
  return { ...none, stamp, position: [px, py, pz], orientation: [w, x, y, z] };
}
