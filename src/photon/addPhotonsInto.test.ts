import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { addPhotonsInto } from './addPhotonsInto.ts';
import { ROOM_CAMERA, renderRoom } from './darkRoom.fixture.ts';
import { PhotonEventsBuilder } from './PhotonEventsBuilder.ts';
import { startPhotonFinder } from './photonFinder.ts';

test('photons added to dark frames are found where they were put, with the charge they were given, seed 81', () => {
  const random = randomFrom(81);
  const finder = startPhotonFinder(ROOM_CAMERA);
  finder.learnFrom(Array.from({ length: 64 }, () => renderRoom(random, [])));
  const events = new PhotonEventsBuilder();
  const spots = Array.from({ length: 200 }, () => ({
    xPx: 30 + 100 * random.uniform(),
    yPx: 30 + 60 * random.uniform(),
    chargeDn: 120,
  }));
  spots.forEach((spot, k) => {
    const frame = renderRoom(random, []);
    addPhotonsInto(frame, [spot], ROOM_CAMERA, random);
    finder.addInto(events, frame, { frame: k, tNs: k * 20e6, gain: 1 });
  });
  const { count, frame, xPx, yPx, charge } = events.finish();
  let [found, sum] = [0, 0];
  for (let i = 0; i < count; i++) {
    // 0.1 px of noise; seven sigmas for 200 of them. Elsewhere there is what noise makes.
    if (Math.hypot(xPx[i] - spots[frame[i]].xPx, yPx[i] - spots[frame[i]].yPx) > 0.7) continue;
    found++;
    sum += charge[i];
  }
  expect(found).toBe(200);
  // Read noise of 1.2 DN over a spot is 6 DN of 120: 0.4 % of the mean of 200; three of that.
  expect(Math.abs(sum / 200 / 120 - 1)).toBeLessThan(0.012);
});

test('a photon added to a pixel near the limit of the sensor stops at the limit', () => {
  const data = new Uint8Array(400).fill(250);
  addPhotonsInto(
    { widthPx: 20, heightPx: 20, data },
    [{ xPx: 10, yPx: 10, chargeDn: 900 }],
    { spotSigmaPx: 1.3, saturationLevel: 252 },
    randomFrom(82),
  );
  expect(Math.max(...data)).toBe(252);
  expect(data[0]).toBe(250);
});
