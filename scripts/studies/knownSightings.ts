/** Sightings by a search that makes no mistake: the events of each discharge in each pass, with the background beside them. */
import { projectPoint } from '../../src/camera/projectPoint.ts';
import { pointInUvM } from '../../src/sighting/framePoses.ts';
import type { Sighting } from '../../src/sighting/Sighting.ts';
import type { Discharge, World } from '../../src/simulate/World.ts';
import type { EventFlight } from './eventFlight.ts';

/** Events of a discharge in one pass below which a search at one false alarm an hour would not find it. */
const LEAST_EVENTS = 10;
/** Background events within this of the mean way of the discharge's own are among its rays, px. */
const GATE_PX = 4;

/**
 * One sighting for each pass that shows a discharge in ten events or more. Background events near by are among its rays, and
 * all have the membership that their distance from the source's own events gives: a Gaussian against an even background.
 */
export function knownSightings(world: World, flight: EventFlight): { sighting: Sighting; discharge: number }[] {
  const { events, rays, poses, source, believed } = flight;
  const { widthPx, heightPx } = believed.lens;
  const backgroundPerPx =
    source.reduce((n, s) => n + (s < 0 ? 1 : 0), 0) / (widthPx * heightPx * flight.entries.length);
  const poseOfFrame = new Map(Array.from(poses.frame, (frame, pose) => [frame, pose]));
  /** The pass over a place about a pose that sees it: from where it comes into the image to where it leaves it, as a search has it. */
  const inView = (place: Discharge['positionEnuM'], pose: number): readonly [number, number] => {
    const sees = (at: number): boolean => {
      const px = projectPoint(pointInUvM(poses, at, place), believed.lens);
      return px !== null && px[0] >= 0 && px[1] >= 0 && px[0] <= widthPx - 1 && px[1] <= heightPx - 1;
    };
    let [from, to] = [pose, pose];
    while (from > 0 && sees(from - 1)) from--;
    while (to + 1 < poses.count && sees(to + 1)) to++;
    return [from, to];
  };
  return flight.discharges.flatMap((discharge) => {
    const index = world.flight.sources.indexOf(discharge);
    return world.flight.passes.flatMap(({ fromS, toS }, pass) => {
      const near: { ray: number; du: number; dv: number; own: boolean; pose: number }[] = [];
      for (let ray = 0; ray < rays.count; ray++) {
        if (rays.tNs[ray] < fromS * 1e9 || rays.tNs[ray] >= toS * 1e9) continue;
        const event = rays.event[ray];
        const own = source[event] === index;
        if (!own && source[event] >= 0) continue;
        const pose = poseOfFrame.get(rays.frame[ray]);
        if (pose === undefined) continue;
        // Where the measuring side would expect it: off by what it gets wrong, alike for the whole pass.
        const px = projectPoint(pointInUvM(poses, pose, discharge.positionEnuM), believed.lens);
        if (!px) continue;
        const [du, dv] = [events.xPx[event] - px[0], events.yPx[event] - px[1]];
        if (own || Math.hypot(du, dv) < 40) near.push({ ray, du, dv, own, pose });
      }
      const mine = near.filter((n) => n.own);
      if (mine.length < LEAST_EVENTS) return [];
      const middle = (of: (n: (typeof near)[number]) => number): number => {
        const sorted = mine.map(of).sort((a, b) => a - b);
        return sorted[sorted.length >> 1];
      };
      const [u, v] = [middle((n) => n.du), middle((n) => n.dv)];
      const frames = new Set(mine.map((n) => n.pose)).size;
      const [fromPose, toPose] = inView(discharge.positionEnuM, mine[0].pose);
      const perFrame = mine.length / (toPose - fromPose + 1);
      // Along the way of the smear events scatter more; one round Gaussian of 1.6 px stands for both.
      const sigmaPx = 1.6;
      const taken = near.flatMap((n) => {
        const away = Math.hypot(n.du - u, n.dv - v);
        const density = (perFrame * Math.exp((-away * away) / (2 * sigmaPx ** 2))) / (2 * Math.PI * sigmaPx ** 2);
        const membership = density / (density + backgroundPerPx);
        return (n.own || away < GATE_PX) && membership > 0.05 ? [{ ray: n.ray, membership }] : [];
      });
      const sighting: Sighting = {
        id: `${discharge.id}-${pass + 1}`,
        rays: Int32Array.from(taken, (t) => t.ray),
        membership: Float64Array.from(taken, (t) => t.membership),
        fromNs: poses.tNs[fromPose],
        toNs: poses.tNs[toPose],
        framesInView: toPose - fromPose + 1,
        seedEnuM: [discharge.positionEnuM[0] + 0.4, discharge.positionEnuM[1] - 0.7, discharge.positionEnuM[2] + 0.3],
        logLikelihoodRatio: 30 + frames,
        expectedBackground: 0,
        falseAlarmsPerHour: 1e-6,
        suspicions: [],
      };
      return [{ sighting, discharge: index }];
    });
  });
}
