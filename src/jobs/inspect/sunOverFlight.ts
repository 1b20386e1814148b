import type { LocalFrame } from '../../earth/LocalFrame.ts';
import { sunPosition } from '../../earth/sunPosition.ts';
import { radFromDeg } from '../../maths/angle.ts';
import type { OpenedFlight } from '../../recording/openFlight.ts';
import type { SunAt } from '../../sighting/sunNearView.ts';
import { utcFromStamp } from '../../time/utcFromStamp.ts';

/** The sun moves 0.04 degrees in so many seconds. */
const STEP_S = 10;

/** Where the sun stands during a flight, east-north-up at the middle of the campaign, to 0.05 degrees. */
export function sunOverFlight({ description }: OpenedFlight, frame: LocalFrame): SunAt {
  const [lonDeg, latDeg] = frame.originLlh;
  const known = new Map<number, ReturnType<SunAt>>();
  return (tNs) => {
    const step = Math.round(tNs / (STEP_S * 1e9));
    const before = known.get(step);
    if (before !== undefined) return before;
    const utc = utcFromStamp(description.epoch, step * STEP_S * 1e9);
    const { azimuthDeg, elevationDeg } = sunPosition(utc, lonDeg, latDeg);
    const [azimuth, elevation] = [radFromDeg(azimuthDeg), radFromDeg(elevationDeg)];
    const level = Math.cos(elevation);
    const sun =
      elevationDeg < 0 ? null : ([Math.sin(azimuth) * level, Math.cos(azimuth) * level, Math.sin(elevation)] as const);
    known.set(step, sun);
    return sun;
  };
}
