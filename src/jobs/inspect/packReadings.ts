import type { FrameReading } from '../../photon/FrameReader.ts';
import type { EventShape } from '../../photon/readRegion.ts';

const PER_READING = 3;
const PER_EVENT = 8;

/** Readings of frames as plain numbers: sent from thread to thread in a tenth of the time that objects take. */
export function packReadings(readings: readonly FrameReading[]): Float64Array {
  const events = readings.reduce((sum, { found }) => sum + found.length, 0);
  const packed = new Float64Array(readings.length * PER_READING + events * PER_EVENT);
  let at = 0;
  for (const { levelDn, noiseScale, found } of readings) {
    packed[at++] = levelDn;
    packed[at++] = noiseScale;
    packed[at++] = found.length;
    for (const event of found) {
      packed[at++] = event.xPx;
      packed[at++] = event.yPx;
      packed[at++] = event.charge;
      packed[at++] = event.sigmaPx;
      packed[at++] = event.flags;
      packed[at++] = event.lonePixel;
      packed[at++] = event.extentPx;
      packed[at++] = event.radiusPx;
    }
  }
  return packed;
}

export function unpackReadings(packed: Float64Array): FrameReading[] {
  const readings: FrameReading[] = [];
  for (let at = 0; at < packed.length; ) {
    const [levelDn, noiseScale, count] = [packed[at], packed[at + 1], packed[at + 2]];
    at += PER_READING;
    const found: EventShape[] = [];
    for (let k = 0; k < count; k++, at += PER_EVENT)
      found.push({
        xPx: packed[at],
        yPx: packed[at + 1],
        charge: packed[at + 2],
        sigmaPx: packed[at + 3],
        flags: packed[at + 4],
        lonePixel: packed[at + 5],
        extentPx: packed[at + 6],
        radiusPx: packed[at + 7],
      });
    readings.push({ levelDn, noiseScale, found });
  }
  return readings;
}
