/**
 * Where a photon rate differs from the truth: flights drawn event by event, counted by the product about the places that it finds. The light
 * that was in fact drawn in the counted frames parts the error of the count from what the frames happened to catch.
 */
import { ultravioletExtinction } from '../../src/earth/ultravioletExtinction.ts';
import { estimatePhotonRate, eventsPerPhotonAt, type RateObservation } from '../../src/grade/estimatePhotonRate.ts';
import { countSource, eventsByFrame, type Stretch } from '../../src/jobs/inspect/countSource.ts';
import { countWithMissed, missedPasses } from '../../src/jobs/inspect/missedPasses.ts';
import { offsetOfPass } from '../../src/jobs/inspect/offsetOfPass.ts';
import { PARAMETERS } from '../../src/jobs/inspect/parameters.ts';
import { singleEvents } from '../../src/jobs/inspect/singleEvents.ts';
import { systematicErrors } from '../../src/jobs/inspect/systematicErrors.ts';
import { randomFrom } from '../../src/maths/random.ts';
import { mean, quantile } from '../../src/maths/sampleStatistics.ts';
import { meanChargeDn } from '../../src/photon/UvCamera.ts';
import { gatherDischarges } from '../../src/place/gatherDischarges.ts';
import { inventWorld } from '../../src/simulate/inventWorld.ts';
import { flightExposures } from '../../src/simulate/uvSpots.ts';
import type { World } from '../../src/simulate/World.ts';
import { bootstrapByFlight } from './bootstrapByFlight.ts';
import { believeRig, flyEvents } from './eventFlight.ts';
import { knownSightings } from './knownSightings.ts';
import { isTimeUp, NotYetDone, piece } from './pieces.ts';
import { registrationOf } from './placing.ts';
import type { Study } from './Study.ts';

interface Counted {
  /** Drawn photons a counted frame. */
  readonly perFrame: number;
  /** Passes that showed it in ten events or more. */
  readonly passes: number;
  readonly estimateOverTruth: number;
  readonly estimateOverDrawn: number;
  readonly drawnOverExpected: number;
  readonly inside: boolean;
}

/** Photons of each source in each frame, as the world lets them fall. */
function drawnPhotons(world: World): Float64Array[] {
  const frames = world.flight.uvTimes.tNs.length;
  const exposureOf = flightExposures(world);
  const drawn = world.flight.sources.map(() => new Float64Array(frames));
  for (let frame = 0; frame < frames; frame++) {
    const { spots } = exposureOf(frame);
    for (let i = 0; i < spots.count; i++) if (spots.source[i] >= 0) drawn[spots.source[i]][frame]++;
  }
  return drawn;
}

function countFlight(seed: number): Counted[] {
  const world = inventWorld(seed);
  const believed = believeRig(world, randomFrom(seed).fork(77));
  const flight = flyEvents(world, believed, seed);
  const { uv } = believed.rig.cameras;
  const known = knownSightings(world, flight);
  const sightingOf = new Map(known.map((k) => [k.sighting.id, k]));
  const registration = registrationOf(believed);
  const { discharges } = gatherDischarges(
    known.map(({ sighting }) => ({
      flight: world.flight.name,
      sighting,
      rays: flight.rays,
      poses: flight.poses,
      errors: systematicErrors(flight.track, (sighting.fromNs + sighting.toNs) / 2, believed.mounting, registration),
    })),
  );
  const explained = new Set(
    known.flatMap(({ sighting }) =>
      Array.from(sighting.rays).flatMap((ray, i) => (sighting.membership[i] > 0.1 ? [flight.rays.event[ray]] : [])),
    ),
  );
  const { gain } = world.flight;
  const gainOf = (frame: number): number =>
    world.flight.uvTimes.tNs[frame] * 1e-9 < gain.stepAtS ? gain.before : gain.after;
  const single = singleEvents(flight.events, gainOf, (g) => meanChargeDn(uv, g), explained);
  const byFrame = eventsByFrame(flight.events, flight.entries.length);
  const { temperatureC, pressureHPa } = world.flight.conditions;
  const air = ultravioletExtinction({ temperatureC, pressureHPa }, uv.bandNm);
  const conditions = {
    apertureMm: uv.apertureMm,
    bandNm: uv.bandNm,
    eventsPerPhoton: uv.eventsPerPhoton,
    eventsPerPhotonRelativeSigma: PARAMETERS.efficiencyRelativeSigma,
    extinctionPerKm: air.perKm,
    extinctionSigmaPerKm: air.sigmaPerKm,
    singleChargeRelativeSigma: single.relativeSigma,
    mainsHz: 50,
    frameRateHz: world.flight.uvRateHz,
  };
  const { widthPx, heightPx } = believed.lens;
  const backgroundPerPx = (flight.events.count - explained.size) / (widthPx * heightPx * flight.poses.count);
  const drawn = drawnPhotons(world);
  const frameOf = new Map(Array.from(flight.poses.tNs, (tNs, pose) => [tNs, flight.poses.frame[pose]]));
  const stretchesOf = ({ sightingIds, placement }: (typeof discharges)[number]): Stretch[] =>
    sightingIds.flatMap((id) => {
      const sighting = sightingOf.get(id)?.sighting;
      if (!sighting) return [];
      const { fromNs, toNs } = sighting;
      const { rays, events, poses } = flight;
      return [
        {
          fromNs,
          toNs,
          offsetPx: offsetOfPass(sighting, rays, events, poses, believed.lens, placement.positionEnuM),
        },
      ];
    });
  return discharges.flatMap((discharge): Counted[] => {
    const members = discharge.sightingIds.flatMap((id) => sightingOf.get(id) ?? []);
    const source = world.flight.sources[members[0].discharge];
    if (source.kind !== 'discharge') return [];
    const { positionEnuM, covarianceEnuM2: c } = discharge.placement;
    const count = (list: readonly Stretch[]): RateObservation | null =>
      countSource(
        byFrame,
        gainOf,
        positionEnuM,
        list,
        flight.poses,
        believed.lens,
        Math.hypot(uv.blurSigmaPx, 0.5),
        backgroundPerPx,
        single,
        { share: 0, spotSigmaPx: uv.spotSigmaPx },
        discharges.filter((other) => other !== discharge).map((other) => other.placement.positionEnuM),
      );
    const own = stretchesOf(discharge);
    const others = discharges.flatMap((other) => (other === discharge ? [] : stretchesOf(other)));
    const observation = countWithMissed(
      count,
      own,
      missedPasses(positionEnuM, own, flight.poses, believed.lens, others),
    );
    if (!observation) return [];
    const rate = estimatePhotonRate(observation, { ...conditions, rangeSigmaM: Math.sqrt((c[0] + c[4] + c[8]) / 3) });
    let photons = 0;
    let grasp = 0;
    observation.tNs.forEach((tNs, i) => {
      photons += drawn[members[0].discharge][frameOf.get(tNs) ?? 0];
      grasp += observation.exposureS[i] * eventsPerPhotonAt(observation.rangeM[i], conditions);
    });
    return [
      {
        perFrame: photons / observation.tNs.length,
        passes: members.length,
        estimateOverTruth: rate.rateHz / source.photonRateHz,
        estimateOverDrawn: (rate.rateHz * grasp) / photons,
        drawnOverExpected: photons / (source.photonRateHz * grasp),
        inside: source.photonRateHz >= rate.interval.lower && source.photonRateHz <= rate.interval.upper,
      },
    ];
  });
}

const STRENGTHS = [0, 0.25, 1, 5, Number.POSITIVE_INFINITY];

function row(name: string, flights: readonly (readonly Counted[])[]): string {
  const all = flights.flat();
  const figure = (of: (c: Counted) => number): string => {
    const [low, high] = bootstrapByFlight(flights, (list) => mean(list.map(of)));
    return `${mean(all.map(of)).toFixed(3)} (${low.toFixed(3)} to ${high.toFixed(3)})`;
  };
  const median = quantile(
    all.map((c) => c.estimateOverTruth),
    0.5,
  );
  const inside = all.filter((c) => c.inside).length;
  return `| ${[
    name,
    String(all.length),
    figure((c) => c.estimateOverDrawn),
    figure((c) => c.drawnOverExpected),
    figure((c) => c.estimateOverTruth),
    median.toFixed(3),
    `${inside} of ${all.length}`,
  ].join(' | ')} |`;
}

export const study: Study = ({ seeds = 20, firstSeed = 9001, progress }) => {
  const flights = Array.from({ length: seeds }, (_, i) => {
    if (isTimeUp()) throw new NotYetDone();
    progress(`${i + 1} of ${seeds} flights`);
    return piece(`rates-${firstSeed + i}`, () => countFlight(firstSeed + i));
  });
  const only = (holds: (c: Counted) => boolean): Counted[][] => flights.map((flight) => flight.filter(holds));
  const all = flights.flat();
  const drawnMean = mean(all.map((c) => c.estimateOverDrawn));
  const rows = [
    row('all', flights),
    ...STRENGTHS.slice(1).map((to, i) =>
      row(
        Number.isFinite(to) ? `${STRENGTHS[i]} to ${to} photons a frame` : `${STRENGTHS[i]} and more`,
        only((c) => c.perFrame >= STRENGTHS[i] && c.perFrame < to),
      ),
    ),
    row(
      'below 1, found in one pass',
      only((c) => c.perFrame < 1 && c.passes === 1),
    ),
    row(
      'below 1, found in two passes',
      only((c) => c.perFrame < 1 && c.passes > 1),
    ),
  ];
  return {
    title: 'Rates',
    headline: `${all.length} discharges of ${seeds} flights: what is counted is ${drawnMean.toFixed(3)} of the light that fell into the counted frames; rate over true rate ${mean(all.map((c) => c.estimateOverTruth)).toFixed(3)} in the mean, ${quantile(
      all.map((c) => c.estimateOverTruth),
      0.5,
    ).toFixed(
      3,
    )} in the median; true rate in the 95 % interval ${all.filter((c) => c.inside).length} of ${all.length}.`,
    markdown: `Flights ${firstSeed} to ${firstSeed + seeds - 1}, drawn event by event as for placing: what the finder itself loses or adds is docs/accuracy/photons.md. Intervals (95 %) from drawing whole flights.
*Count over light*: what the product counts over the photons that fell into the frames it counted. *Light over expected*: those photons over what the true rate
gives in the mean over all phases of the mains, by the product's own range, air and optics. The rate over the true rate is the product of both.

| strength | discharges | count over light | light over expected | rate over true rate, mean | median | true rate in the 95 % interval |
| --- | --- | --- | --- | --- | --- | --- |
${rows.join('\n')}

What makes light over expected differ from one:

- Frames in step with the mains: of an exposure of 18 ms in 20 ms the crests of a steady discharge lie both inside in most passes (1.11), one of them outside in the others (down to
  0.4). The mean over all phases is 1, the median above it. Nothing in a flight tells the phase; the interval is widened by it.
- Haze: 0.3 ± 0.3 per km is allowed for; this invented air has none, which is 1 to 2 % at these ranges.
- Luck: what is near the limit of detection is found in the passes in which it happened to be bright. Passes that missed it by what may be bad luck are counted with those
  that found it, so that the faintest are not told too bright.`,
  };
};
