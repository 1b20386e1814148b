import { expect, test } from 'vitest';
import { datumShiftsAt } from './datumShift.ts';
import { localFrameAt } from './LocalFrame.ts';

// What cct of PROJ 9.1.1 makes of the place by the EPSG operation of the datum.
test.each([
  ['ED50', -9, 48, 47.998926175, -9.001479388],
  ['OSGB36', -1, 52, 52.000439574, -1.001526226],
  ['DHDN', 9, 50, 49.998853137, 8.998960545],
  ['Pulkovo 1942', 60, 55, 55.000369782, 59.998680843],
  ['MGI', 14, 47, 46.999561641, 13.999204507],
  ['NTF', 2, 45, 44.999972676, 1.99931386],
] as const)('%s is as far from WGS 84 as PROJ has it', (name, lon, lat, latThere, lonThere) => {
  const [east, north] = localFrameAt([lon, lat, 0]).enuFromLlh([lonThere, latThere, 0]);
  const shift = datumShiftsAt(lon, lat).find((s) => s.name === name);
  expect(Math.abs((shift?.eastM ?? Number.NaN) - east)).toBeLessThan(0.001); // nine digits of a degree are 0.1 mm
  expect(Math.abs((shift?.northM ?? Number.NaN) - north)).toBeLessThan(0.001);
});

test('in the middle of an ocean no older datum is suspected', () => {
  expect(datumShiftsAt(-31.9, 44.4)).toEqual([]);
});
