import type { Random } from '../maths/random.ts';
import { inverse, type RigidTransform, transformPoint } from '../maths/rigidTransform.ts';
import { add, distance, scale, type Vec3 } from '../maths/vec3.ts';
import { airTransmission, bandExtinctionsPerM, eventsPerEmittedPhoton } from './air.ts';
import { arrivalsOfDischarge, arrivalsOfLamp } from './arrivals.ts';
import { hangWire } from './catenary.ts';
import { CHANCE, flightChance } from './chance.ts';
import { enuFromCameraAt } from './FlightPath.ts';
import { meanChargeDn } from './meanCharge.ts';
import { addPhoton, addSpot, addTrail, noSpots, type Spots } from './Spots.ts';
import { shareAtAzimuth } from './sources.ts';
import { isInside, seenAt } from './TrueLens.ts';
import { pointResponse } from './unevenness.ts';
import type { Discharge, Trap, World } from './World.ts';

/** What one frame of the flight shows of each source. */
export interface FlightExposure {
  readonly spots: Spots;
  readonly gain: number;
  readonly tS: number;
  /** For each source: whether its place is in the picture at the middle of the exposure, and how far off; NaN where not. */
  readonly rangeM: Float64Array;
}

/** An extended source, as seen from a camera: its place at an instant, null where it does not exist then. */
type PlaceOf = (enuFromUv: RigidTransform, tS: number) => Vec3 | null;

function placeOfSource(world: World, source: Discharge | Trap): PlaceOf | null {
  if (source.kind === 'discharge') return () => source.positionEnuM;
  if (source.trap === 'moving source')
    return (_, tS) => add(source.startEnuM, scale(source.velocityMps, tS - source.atS));
  if (source.trap === 'sun glint') {
    const wire = world.line.conductors.find((c) => c.id === source.conductorId)!;
    const at = hangWire(wire.startEnuM, wire.endEnuM, wire.sagM);
    return (enuFromUv, tS) => {
      if (tS < source.fromS || tS > source.toS) return null;
      const share = shareAtAzimuth(wire.startEnuM, wire.endEnuM, enuFromUv.translation, source.azimuthRad);
      return share > 0 && share < 1 ? at(share) : null;
    };
  }
  return null;
}

/** Prepares the photon arrivals of a flight; the returned function gives any frame, in any order, the same every time. */
export function flightExposures(world: World): (frame: number) => FlightExposure {
  const { rig, flight } = world;
  const { uvLens } = rig;
  const uv = rig.nominal.cameras.uv;
  const extinctions = bandExtinctionsPerM(flight.conditions);
  const exposureS = flight.uvTimes.exposureNs * 1e-9;
  const places = flight.sources.map((source) => placeOfSource(world, source));
  const chance = flightChance(world, CHANCE.flightUv);
  const poseAt = (tS: number) => enuFromCameraAt(flight.path, world.frame, rig.bodyFromUv, tS);
  const eventsPerPhotonAt = (rangeM: number) =>
    eventsPerEmittedPhoton(uv.apertureMm, uv.eventsPerPhoton, rangeM) * airTransmission(extinctions, rangeM);
  const responseAt = pointResponse(rig.unevenness);

  return (frame) => {
    const random = chance.fork(frame);
    const stampS = flight.uvTimes.tNs[frame]! * 1e-9;
    const tS = stampS + rig.timeOffsetS;
    const gain = stampS < flight.gain.stepAtS ? flight.gain.before : flight.gain.after;
    const charge = meanChargeDn(rig, gain);
    const spots = noSpots();
    const [fromS, toS] = [tS - exposureS / 2, tS + exposureS / 2];
    const middle = poseAt(tS);
    const uvFromEnu = inverse(middle);
    const rangeM = new Float64Array(flight.sources.length).fill(Number.NaN);
    flight.sources.forEach((source, index) => {
      if (source.kind === 'trap' && source.trap === 'cosmic ray') {
        if (source.frame === frame) addTrail(spots, source.fromPx, source.toPx, source.charge * charge, index);
        return;
      }
      const place = places[index];
      if (!place) return;
      const at = place(middle, tS);
      if (!at) return;
      const px = seenAt(uvLens, transformPoint(uvFromEnu, at));
      const margin = 80;
      if (
        !px ||
        px[0] < -margin ||
        px[1] < -margin ||
        px[0] > uvLens.widthPx + margin ||
        px[1] > uvLens.heightPx + margin
      )
        return;
      const range = distance(at, middle.translation);
      if (isInside(uvLens, px)) rangeM[index] = range;
      const own = random.fork(100 + index);
      // Each photon meets the camera where it is at that instant: a moving picture smears by itself.
      const arrive = (photonS: number): void => {
        const pose = poseAt(photonS);
        const then = place(pose, photonS);
        const hit = then && seenAt(uvLens, transformPoint(inverse(pose), then));
        if (hit) addPhoton(own, spots, hit[0], hit[1], charge, uv.spotSigmaPx, index);
      };
      // The picture moves by a few pixels in an exposure, over which the response hardly changes.
      const eventsPerPhoton = eventsPerPhotonAt(range) * responseAt(px[0], px[1]);
      if (source.kind === 'discharge') {
        arrivalsOfDischarge(own, source, flight.mains, fromS, toS, eventsPerPhoton, arrive);
      } else if (source.trap === 'moving source') {
        arrivalsOfLamp(own, source.photonRateHz * exposureS * eventsPerPhoton, fromS, toS, arrive);
      } else if (source.trap === 'sun glint') {
        const bell = Math.sin((Math.PI * (tS - source.fromS)) / (source.toS - source.fromS)) ** 2;
        arrivalsOfLamp(own, source.eventsPerS * exposureS * bell, fromS, toS, arrive);
      }
    });
    // The sky behind the camera's filter brightens and fades over minutes.
    const daylight = flight.daylightEventsPerFrame * (1 + 0.15 * Math.sin(stampS / 23));
    addBackground(random.fork(1), spots, world, charge, flight.darkEventsPerFrame, daylight);
    return { spots, gain, tS, rangeM };
  };
}

/** Dark events, leaked daylight (brighter towards one corner), and now and then an ion or a cosmic ray. */
export function addBackground(
  random: Random,
  spots: Spots,
  world: World,
  charge: number,
  dark: number,
  daylight: number,
): void {
  const { widthPx, heightPx, spotSigmaPx } = world.rig.nominal.cameras.uv;
  const somewhere = (): [number, number] => [random.uniform() * widthPx - 0.5, random.uniform() * heightPx - 0.5];
  for (let i = random.poisson(dark); i > 0; i--) addPhoton(random, spots, ...somewhere(), charge, spotSigmaPx, -1);
  for (let i = random.poisson(daylight); i > 0; i--) {
    let at = somewhere();
    // Rejection: density 1 + 0.25 x + 0.15 y over the picture scaled to [-1, 1], at most 1.4.
    while (1.4 * random.uniform() > 1 + 0.25 * ((2 * at[0]) / widthPx - 1) + 0.15 * (1 - (2 * at[1]) / heightPx))
      at = somewhere();
    addPhoton(random, spots, at[0], at[1], charge, spotSigmaPx, -1);
  }
  for (let i = random.poisson(0.02); i > 0; i--)
    addSpot(spots, ...somewhere(), charge * (8 + 15 * random.exponential()), 1.25 * spotSigmaPx, -1);
  for (let i = random.poisson(0.004); i > 0; i--) {
    const from = somewhere();
    const angle = 2 * Math.PI * random.uniform();
    const length = 3 + 5 * random.exponential();
    addTrail(
      spots,
      from,
      [from[0] + length * Math.cos(angle), from[1] + length * Math.sin(angle)],
      charge * (10 + 25 * random.exponential()),
      -1,
    );
  }
}
