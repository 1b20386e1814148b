import { foxgloveEnumSchemas, foxgloveMessageSchemas, generateProto } from '@foxglove/schemas/internal.js';
import { protobufFromBinaryDescriptor } from '@mcap/support';
import { expect, test } from 'vitest';
import { MESSAGE_SCHEMAS } from './mcapSchemas.ts';
import { protobufStamp, unixNsOfEpoch } from './mcapStamp.ts';

/** Number and type of each field in a .proto text as published. */
function fieldsOfProto(text: string): Map<string, { number: number; type: string; repeated: boolean }> {
  const plain = text.replace(/\/\/.*\n/g, '\n').replace(/enum \w+ \{[^}]*\}/g, '');
  return new Map(
    [...plain.matchAll(/^\s*(repeated |optional )?([\w.]+) (\w+) = (\d+)/gm)].map(([, label, type, name, number]) => [
      name,
      { number: Number(number), type, repeated: label === 'repeated ' },
    ]),
  );
}

test.each(['RawImage', 'CompressedImage', 'LocationFix'] as const)(
  'our foxglove.%s has the names, numbers and types of the published schema',
  (name) => {
    const enums = Object.values(foxgloveEnumSchemas).filter((schema) => schema.parentSchemaName === name);
    const published = fieldsOfProto(generateProto(foxgloveMessageSchemas[name], enums));
    const root = protobufFromBinaryDescriptor(MESSAGE_SCHEMAS.get(`foxglove.${name}`)!.descriptor);
    const ours = Object.values(root.lookupType(`foxglove.${name}`).fields);
    expect(ours.length).toBeGreaterThanOrEqual(4);
    for (const field of ours) {
      const last = (type: string): string => type.split('.').at(-1)!;
      expect({ number: field.id, type: last(field.type), repeated: field.repeated }, field.name).toEqual({
        ...published.get(field.name)!,
        type: last(published.get(field.name)!.type),
      });
    }
  },
);

test('an event comes back to the last bit of each of its columns', () => {
  const { encode, decode } = MESSAGE_SCHEMAS.get('corposant.PhotonEvents')!;
  const message = {
    frame: 4_000_000_000,
    exposure_ns: 19_999_999_999,
    gain: -0.1,
    x_px: [1 / 3, -0.5, 639.499999999],
    y_px: [Math.PI, 0, 1e-300],
    charge: [Math.fround(119.7), Math.fround(1e9), 0],
    sigma_px: [Math.fround(0.11), 1, 2],
    flags: [0, 127, 4],
  };
  expect(decode(encode(message))).toMatchObject(message);
});

test('stamps go to the clock of MCAP and back exactly, before the epoch too', () => {
  const epochNs = unixNsOfEpoch('2026-05-12T06:30:00.25Z');
  expect(epochNs).toBe(1_778_567_400_250_000_000n); // date -u -d 2026-05-12T06:30:00Z +%s gives 1778567400
  for (const tNs of [0, 1, -1, 2 ** 53 - 1, -(2 ** 40) - 7]) {
    expect(Number(epochNs + BigInt(tNs) - epochNs)).toBe(tNs);
    const { seconds, nanos } = protobufStamp(epochNs + BigInt(tNs));
    expect(BigInt(seconds) * 1_000_000_000n + BigInt(nanos)).toBe(epochNs + BigInt(tNs));
    expect(nanos).toBeGreaterThanOrEqual(0);
  }
});
