import type { RigidTransform } from '../maths/rigidTransform.ts';
import { type BenchTruthRow, benchTruth } from './benchExposures.ts';
import { writtenLlh } from './describe.ts';
import type { Tally } from './Tally.ts';
import type { World } from './World.ts';

const written = (t: RigidTransform) => ({ rotation: [...t.rotation], translation: [...t.translation] });

function rigTruth(world: World): unknown {
  const { rig } = world;
  return {
    uv: rig.uvLens,
    colour: rig.colourLens,
    colourFromUv: written(rig.colourFromUv),
    bodyFromUv: written(rig.bodyFromUv),
    timeOffsetMs: rig.timeOffsetS * 1000,
  };
}

/** The content of a flight's truth.json; the counts are of what was drawn, not of what was to be expected. */
export function flightTruth(world: World, tally: Tally): unknown {
  const { flight } = world;
  const sources = flight.sources.map((source, s) => {
    const sum = (row: readonly number[]) => row.reduce((a, b) => a + b, 0);
    const nearest = tally.nearestM[s]!;
    return {
      id: source.id,
      kind: source.kind,
      trap: source.kind === 'trap' ? source.trap : null,
      positionLlh: source.kind === 'discharge' ? writtenLlh(world, source.positionEnuM) : null,
      componentId: source.kind === 'discharge' ? source.componentId : null,
      photonRateHz: 'photonRateHz' in source ? source.photonRateHz : null,
      eventsExpected: sum(tally.events[s]!),
      framesInView: sum(tally.framesInView[s]!),
      trueRangeM: Number.isFinite(nearest) ? nearest : null,
      note: source.note,
      passes: flight.passes.map((pass, p) => ({
        fromNs: Math.round(pass.fromS * 1e9),
        toNs: Math.round(pass.toS * 1e9),
        framesInView: tally.framesInView[s]![p]!,
        events: tally.events[s]![p]!,
      })),
    };
  });
  const changes = flight.changes?.map(({ positionEnuM, ...told }) => ({
    ...told,
    positionLlh: writtenLlh(world, positionEnuM),
  }));
  return {
    format: 'corposant-truth',
    version: 1,
    sources,
    ...(changes ? { changes } : {}),
    rig: rigTruth(world),
    bench: [],
  };
}

export function benchRunTruth(world: World): unknown {
  const bench: readonly BenchTruthRow[] = benchTruth(world);
  return { format: 'corposant-truth', version: 1, sources: [], rig: rigTruth(world), bench };
}
