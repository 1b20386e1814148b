import { useMemo } from 'react';
import type { LookUpTable } from '../../../../src/rig/lookUpTable.ts';
import { type Registration, TWO_CAMERA_PARAMETER_COUNT } from '../../../../src/rig/Registration.ts';
import { eventsOf, type PassEvents } from '../../overlay/PassEvents.ts';
import { type PassPoses, posesOf } from '../../overlay/PassPoses.ts';
import { tableOf } from '../../overlay/tableOf.ts';
import type { FramesAnswer, RegistrationAnswer, SightingOfFinding } from '../../server/answers.ts';
import { type Resource, useBytes, useResource } from '../../server/resource.ts';

/** One pass over a discharge with everything that its overlay is drawn from. */
export interface Pass {
  readonly flight: string;
  readonly fromNs: number;
  readonly toNs: number;
  readonly frames: FramesAnswer;
  readonly registration: Registration;
  readonly table: LookUpTable;
  readonly uvPoses: PassPoses;
  readonly colourPoses: PassPoses;
  readonly events: PassEvents;
}

/** A second before it comes into view and a second after: what is around it belongs to the evidence. */
const AROUND_NS = 1e9;

/** Loads a pass; null asks for nothing. What fails first is what is told. */
export function usePass(sighting: SightingOfFinding | null, registrationHash: string | null): Resource<Pass> {
  const there = sighting !== null && sighting.fromNs !== null && sighting.toNs !== null && registrationHash !== null;
  const fromNs = there ? sighting.fromNs! - AROUND_NS : 0;
  const toNs = there ? sighting.toNs! + AROUND_NS : 0;
  const flight = there ? `/api/flights/${encodeURIComponent(sighting.flight)}` : null;
  const span = `from=${fromNs}&to=${toNs}`;
  const frames = useResource<FramesAnswer>(flight && `${flight}/frames`);
  const registration = useResource<RegistrationAnswer>(there ? `/api/registration/${registrationHash}` : null);
  const table = useBytes(there ? `/api/registration/${registrationHash}/table` : null);
  const poses = useBytes(flight && `${flight}/poses?${span}`);
  const events = useBytes(flight && `${flight}/events?${span}`);
  return useMemo(() => {
    const parts = [frames, registration, table, poses, events] as const;
    for (const part of parts) if (part.state === 'failed') return part;
    if (
      frames.state !== 'ready' ||
      registration.state !== 'ready' ||
      table.state !== 'ready' ||
      poses.state !== 'ready' ||
      events.state !== 'ready'
    )
      return { state: 'loading' };
    const uvPoses = posesOf(poses.data, 'uv');
    const { model, support, covariance, statistics, heldOutRmsPx } = registration.data;
    const known: Registration = {
      model,
      support,
      // Nominal values come without: what is not known shows as not a number, and is not printed.
      covariance: Float64Array.from(covariance ?? new Array(TWO_CAMERA_PARAMETER_COUNT ** 2).fill(Number.NaN)),
      heldOutRmsPx: statistics?.heldOutRmsPx ?? heldOutRmsPx ?? 1,
      hash: registrationHash!,
    };
    return {
      state: 'ready',
      refreshing: false,
      data: {
        flight: sighting!.flight,
        fromNs,
        toNs,
        frames: frames.data,
        registration: known,
        table: tableOf(table.data),
        uvPoses,
        colourPoses: posesOf(poses.data, 'colour'),
        events: eventsOf(events.data, uvPoses, known.model.uv),
      },
    };
  }, [frames, registration, table, poses, events, sighting, registrationHash, fromNs, toNs]);
}
