import { protobufFromDescriptor, protobufToDescriptor } from '@mcap/support';

/** Field types of descriptor.proto that are used here. */
const TYPE = {
  double: 1,
  float: 2,
  int64: 3,
  int32: 5,
  fixed32: 7,
  string: 9,
  message: 11,
  bytes: 12,
  uint32: 13,
  enum: 14,
} as const;
type Field = readonly [name: string, number: number, type: keyof typeof TYPE, more?: 'repeated' | `.${string}`];

const field = ([name, number, type, more]: Field) => ({
  name,
  number,
  type: TYPE[type],
  label: more === 'repeated' ? 3 : 1,
  ...(more?.startsWith('.') ? { typeName: more } : {}),
});
const STAMP = '.google.protobuf.Timestamp';

/** The well-known image and position schemas (foxglove/schemas 2.1), as far as they are written, field by field. */
const FOXGLOVE: Readonly<Record<string, readonly Field[]>> = {
  RawImage: [
    ['timestamp', 1, 'message', STAMP],
    ['width', 2, 'fixed32'],
    ['height', 3, 'fixed32'],
    ['encoding', 4, 'string'],
    ['step', 5, 'fixed32'],
    ['data', 6, 'bytes'],
    ['frame_id', 7, 'string'],
  ],
  CompressedImage: [
    ['timestamp', 1, 'message', STAMP],
    ['data', 2, 'bytes'],
    ['format', 3, 'string'],
    ['frame_id', 4, 'string'],
  ],
  LocationFix: [
    ['latitude', 1, 'double'],
    ['longitude', 2, 'double'],
    ['altitude', 3, 'double'],
    ['position_covariance', 4, 'double', 'repeated'],
    ['position_covariance_type', 5, 'enum', '.foxglove.LocationFix.PositionCovarianceType'],
    ['timestamp', 6, 'message', STAMP],
    ['frame_id', 7, 'string'],
  ],
};

/** What has no well-known schema. Units in the names; docs/formats.md says what each field means. */
const OWN: Readonly<Record<string, readonly Field[]>> = {
  Exposure: [
    ['timestamp', 1, 'message', STAMP],
    ['exposure_ns', 2, 'int64'],
    ['gain', 3, 'double'],
    ['segment', 4, 'uint32'],
  ],
  PhotonEvents: [
    ['timestamp', 1, 'message', STAMP],
    ['frame', 2, 'uint32'],
    ['exposure_ns', 3, 'int64'],
    ['gain', 4, 'double'],
    ['segment', 5, 'uint32'],
    ['x_px', 6, 'double', 'repeated'],
    ['y_px', 7, 'double', 'repeated'],
    ['charge', 8, 'float', 'repeated'],
    ['sigma_px', 9, 'float', 'repeated'],
    ['flags', 10, 'uint32', 'repeated'],
  ],
  FrameFate: [
    ['timestamp', 1, 'message', STAMP],
    ['stream', 2, 'string'],
    ['arrival', 3, 'uint32'],
    ['fate', 4, 'string'],
    ['exposure_ns', 5, 'int64'],
    ['gain', 6, 'double'],
  ],
  Pose: [
    ['timestamp', 1, 'message', STAMP],
    ['lat_deg', 2, 'double'],
    ['lon_deg', 3, 'double'],
    ['height_m', 4, 'double'],
    ['roll_deg', 5, 'double'],
    ['pitch_deg', 6, 'double'],
    ['heading_deg', 7, 'double'],
    ['velocity_ned_mps', 8, 'double', 'repeated'],
    ['sigma', 9, 'double', 'repeated'],
  ],
  Note: [
    ['timestamp', 1, 'message', STAMP],
    ['text', 2, 'string'],
  ],
};

const STAMP_FILE = {
  name: 'google/protobuf/timestamp.proto',
  package: 'google.protobuf',
  syntax: 'proto3',
  messageType: [{ name: 'Timestamp', field: [field(['seconds', 1, 'int64']), field(['nanos', 2, 'int32'])] }],
};

function fileOf(packageName: string, name: string, fields: readonly Field[]) {
  const enumType =
    name === 'LocationFix'
      ? [
          {
            name: 'PositionCovarianceType',
            value: ['UNKNOWN', 'APPROXIMATED', 'DIAGONAL_KNOWN', 'KNOWN'].map((value, number) => ({
              name: value,
              number,
            })),
          },
        ]
      : [];
  return {
    name: `${packageName}/${name}.proto`,
    package: packageName,
    dependency: [STAMP_FILE.name],
    syntax: 'proto3',
    messageType: [{ name, field: fields.map(field), enumType }],
  };
}

export type MessageName =
  | `foxglove.${'RawImage' | 'CompressedImage' | 'LocationFix'}`
  | `corposant.${'Exposure' | 'PhotonEvents' | 'FrameFate' | 'Pose' | 'Note'}`;

/** The topics of a recording and the schema of each. */
export const TOPICS = {
  uvImage: { topic: '/uv/image', schema: 'foxglove.RawImage' },
  uvExposure: { topic: '/uv/exposure', schema: 'corposant.Exposure' },
  uvEvents: { topic: '/uv/events', schema: 'corposant.PhotonEvents' },
  colourImage: { topic: '/colour/image', schema: 'foxglove.CompressedImage' },
  colourExposure: { topic: '/colour/exposure', schema: 'corposant.Exposure' },
  trajectory: { topic: '/trajectory', schema: 'corposant.Pose' },
  position: { topic: '/position', schema: 'foxglove.LocationFix' },
  ledger: { topic: '/ledger', schema: 'corposant.FrameFate' },
  notes: { topic: '/notes', schema: 'corposant.Note' },
} as const satisfies Record<string, { topic: string; schema: MessageName }>;
export type TopicName = keyof typeof TOPICS;

export interface MessageSchema {
  /** The schema itself, a serialised FileDescriptorSet, as MCAP wants it for protobuf. */
  readonly descriptor: Uint8Array;
  encode(message: object): Uint8Array;
  /** Whole numbers of 64 bit come as numbers: all of ours are below 2^53. */
  decode(bytes: Uint8Array): unknown;
}

/** Every message type by its full name, made from the tables above. */
export const MESSAGE_SCHEMAS: ReadonlyMap<string, MessageSchema> = new Map(
  [
    ...Object.entries(FOXGLOVE).map(([name, fields]) => ['foxglove', name, fields] as const),
    ...Object.entries(OWN).map(([name, fields]) => ['corposant', name, fields] as const),
  ].map(([packageName, name, fields]) => {
    const fullName = `${packageName}.${name}`;
    return [fullName, schemaOf(fullName, { file: [STAMP_FILE, fileOf(packageName, name, fields)] })] as const;
  }),
);

function schemaOf(fullName: string, set: object): MessageSchema {
  const root = protobufFromDescriptor(set as Parameters<typeof protobufFromDescriptor>[0]);
  const type = root.lookupType(fullName);
  // The library gives a descriptor back without its dependencies, which strict readers need: ours is encoded as it stands,
  // and the library's only tells the type to encode it with.
  const { $type: descriptorSet } = protobufToDescriptor(root);
  return {
    descriptor: descriptorSet.encode(descriptorSet.fromObject(set)).finish(),
    encode: (message) => type.encode(message).finish(),
    decode: (bytes) => type.toObject(type.decode(bytes), { longs: Number, defaults: true, arrays: true }),
  };
}
