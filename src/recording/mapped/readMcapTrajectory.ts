import { open } from 'node:fs/promises';
import { McapIndexedReader } from '@mcap/core';
import { FileHandleReadable } from '@mcap/nodejs';
import { egm96UndulationM } from '../../earth/geoid.ts';
import type { Llh } from '../../earth/Llh.ts';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { InputError } from '../../input/InputError.ts';
import type { Epoch } from '../../time/Epoch.ts';
import { DECOMPRESS } from '../mcapZstd.ts';
import type { TrajectoryTable } from '../TrajectoryTable.ts';
import { unreadable } from '../unreadable.ts';
import { anglesOfQuaternion, type RollPitchHeading } from './attitudeColumns.ts';
import { stampOf } from './clockReading.ts';
import { type DecodePose, POSE_KINDS, type PoseMessage, poseDecoder } from './mcapPoseMessage.ts';
import { joinPoses, type PositionStream } from './poseStreams.ts';
import { EGM96_SAID } from './positionColumns.ts';
import { withAttitude } from './readTextTrajectory.ts';
import type { McapMapping } from './TrajectoryMapping.ts';

interface Taken {
  readonly tNs: number;
  readonly message: PoseMessage;
}

/**
 * Positions and attitudes of an MCAP recording that is not of our recorder, from the topics that the mapping names.
 * @throws InputError where a topic is missing or of a kind that tells no pose, and for values that cannot be
 */
export async function readMcapTrajectory(
  file: string,
  mapping: McapMapping,
  epoch: Epoch,
  folder: string,
): Promise<TrajectoryTable> {
  const { position, attitude } = mapping;
  const inFile = 'topic' in attitude ? attitude : null;
  const topics = [...new Set([position.topic, ...(inFile ? [inFile.topic] : [])])];
  const taken = await messagesOf(file, topics, mapping, epoch);
  const notes: string[] = [];
  const placed = inOrder(taken.get(position.topic) ?? [], position.topic, notes);
  const refuse = (topic: string, found: string, expected: string): never => {
    throw new InputError({ file, field: topic, found, expected, todo: 'Name another topic in the mapping.' });
  };
  const frame =
    position.form === 'local east-north-up'
      ? localFrameAt([position.originLonDeg, position.originLatDeg, position.originHeightM])
      : null;
  if (position.form === 'location' && position.height === 'EGM96') notes.push(EGM96_SAID);
  const llh = placed.map(({ message }): Llh => {
    if (frame)
      return message.position
        ? frame.llhFromEnu(message.position)
        : refuse(position.topic, 'messages without a position', `one of ${POSE_KINDS.slice(2, 6).join(', ')}`);
    const at = message.latLonAlt ?? refuse(position.topic, 'messages without a latitude', 'LocationFix or NavSatFix');
    if (!(Math.abs(at[0]) <= 90 && Math.abs(at[1]) <= 180 && Number.isFinite(at[2])))
      refuse(position.topic, `latitude ${at[0]}, longitude ${at[1]}, altitude ${at[2]}`, 'degrees and metres');
    return [
      at[1],
      at[0],
      position.form === 'location' && position.height === 'EGM96' ? at[2] + egm96UndulationM(at[1], at[0]) : at[2],
    ];
  });
  const sigmaM = placed.map(({ message }): readonly [number, number, number] => {
    const c = message.covarianceEnuM2;
    if (c && c[0] > 0 && c[4] > 0 && c[8] > 0) return [Math.sqrt(c[4]), Math.sqrt(c[0]), Math.sqrt(c[8])];
    const s =
      position.sigmaM ??
      refuse(position.topic, 'messages without a covariance', 'a covariance, or "sigmaM" in the mapping');
    return [s, s, s];
  });
  const positions: PositionStream = { file, tNs: placed.map((m) => m.tNs), llh, sigmaM, fix: null };
  if (!inFile)
    return withAttitude(
      positions,
      attitude as Exclude<McapMapping['attitude'], { topic: string }>,
      epoch,
      folder,
      notes,
    );
  const turned = inOrder(taken.get(inFile.topic) ?? [], inFile.topic, notes);
  const { rollDeg, pitchDeg, headingDeg } = inFile.sigma;
  return joinPoses(
    positions,
    {
      file,
      tNs: turned.map((m) => m.tNs),
      rollPitchHeading: turned.map(({ message }): RollPitchHeading => {
        const q =
          message.orientation ??
          refuse(inFile.topic, 'messages without an orientation', `one of ${POSE_KINDS.slice(2).join(', ')}`);
        const length = Math.hypot(...q);
        return Math.abs(length - 1) < 0.01
          ? anglesOfQuaternion(q, inFile.turns)
          : refuse(inFile.topic, `a quaternion of length ${length.toFixed(3)}`, 'unit quaternions');
      }),
      sigmaDeg: [rollDeg, pitchDeg, headingDeg],
    },
    notes,
  );
}

async function messagesOf(
  file: string,
  topics: readonly string[],
  mapping: McapMapping,
  epoch: Epoch,
): Promise<Map<string, Taken[]>> {
  const handle = await open(file, 'r').catch((error: unknown) => {
    throw new InputError({
      file,
      found: unreadable(error),
      expected: 'an MCAP recording',
      todo: 'Check the path and the permissions.',
    });
  });
  try {
    const reader = await McapIndexedReader.Initialize({
      readable: new FileHandleReadable(handle),
      decompressHandlers: DECOMPRESS,
    }).catch((error: Error) => {
      throw new InputError({
        file,
        found: `no closed MCAP recording (${error.message})`,
        expected: 'an MCAP file with its index',
        todo: 'Recover the file with an MCAP tool.',
      });
    });
    const squeezed = reader.chunkIndexes.find((c) => c.compression !== '' && c.compression !== 'zstd');
    if (squeezed)
      throw new InputError({
        file,
        found: `chunks compressed with ${squeezed.compression}`,
        expected: 'none or zstd',
        todo: 'Compress the recording anew with zstd; generic MCAP tools do.',
      });
    const decoders = new Map<number, DecodePose>();
    for (const topic of topics) {
      const channels = [...reader.channelsById.values()].filter((c) => c.topic === topic);
      const all = [...reader.channelsById.values()].map(
        (c) => `${c.topic} (${reader.schemasById.get(c.schemaId)?.name ?? 'no schema'})`,
      );
      if (channels.length === 0)
        throw new InputError({
          file,
          field: topic,
          found: `no such topic; there are ${all.join(', ').slice(0, 300)}`,
          expected: 'a topic of the recording',
          todo: 'Correct the mapping.',
        });
      for (const { id, schemaId } of channels) {
        const schema = reader.schemasById.get(schemaId);
        const decode = schema ? poseDecoder(schema) : null;
        if (!decode)
          throw new InputError({
            file,
            field: topic,
            found: `messages of ${schema?.name ?? 'no schema'} in ${schema?.encoding ?? 'no encoding'}`,
            expected: `${POSE_KINDS.join(', ')} in protobuf, jsonschema, ros1msg or ros2msg`,
            todo: 'Name another topic in the mapping.',
          });
        decoders.set(id, decode);
      }
    }
    const taken = new Map<string, Taken[]>(topics.map((topic) => [topic, []]));
    for await (const { channelId, logTime, data } of reader.readMessages({ topics: [...topics], validateCrcs: true })) {
      const { topic } = reader.channelsById.get(channelId)!;
      const message = (decoders.get(channelId) as DecodePose)(data);
      const face =
        mapping.stamp === 'log'
          ? { s: Number(logTime / 1_000_000_000n), ns: Number(logTime % 1_000_000_000n) }
          : message.stamp;
      const tNs = stampOf(epoch, face, mapping.scale, mapping.scale === 'UTC' ? (mapping.gpsMinusUtcS ?? null) : null);
      taken.get(topic)!.push({ tNs, message });
    }
    return taken;
  } finally {
    await handle.close();
  }
}

/** By stamp; messages with the stamp of another are left out and counted. */
function inOrder(messages: readonly Taken[], topic: string, notes: string[]): Taken[] {
  const sorted = [...messages].sort((a, b) => a.tNs - b.tNs);
  const rising = sorted.filter((m, i) => i === 0 || m.tNs > sorted[i - 1].tNs);
  if (rising.length < sorted.length)
    notes.push(
      `${sorted.length - rising.length} messages of ${topic} with a stamp that was there before were left out.`,
    );
  return rising;
}
