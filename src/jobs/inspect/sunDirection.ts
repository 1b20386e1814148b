import type { LocalFrame } from '../../earth/LocalFrame.ts';
import { sunPosition } from '../../earth/sunPosition.ts';
import { radFromDeg } from '../../maths/angle.ts';
import type { Vec3 } from '../../maths/vec3.ts';
import type { OpenedFlight } from '../../recording/openFlight.ts';
import { utcFromStamp } from '../../time/utcFromStamp.ts';

/** Unit vector towards the sun at the middle of a flight, east-north-up; null at night. It moves 0.25 degrees a minute. */
export function sunDirection(flight: OpenedFlight, frame: LocalFrame): Vec3 | null {
  const { uvIndex, description } = flight;
  const middleNs = (uvIndex[0].tNs + uvIndex[uvIndex.length - 1].tNs) / 2;
  const [lonDeg, latDeg] = frame.originLlh;
  const { azimuthDeg, elevationDeg } = sunPosition(utcFromStamp(description.epoch, middleNs), lonDeg, latDeg);
  if (elevationDeg < 0) return null;
  const azimuth = radFromDeg(azimuthDeg);
  const elevation = radFromDeg(elevationDeg);
  return [Math.sin(azimuth) * Math.cos(elevation), Math.cos(azimuth) * Math.cos(elevation), Math.sin(elevation)];
}
