import { expect, test } from 'vitest';
import { airTransmission, bandExtinctionsPerM, eventsPerEmittedPhoton, rayleighPerKm } from './air.ts';

const STANDARD = { temperatureC: 15, pressureHPa: 1013.25, ozonePpb: 40 };

test('air scatters 0.3212 per km at 250 nm and 0.1943 at 280 nm', () => {
  // Bodhaine et al., J. Atmos. Oceanic Technol. 16 (1999) 1854: 0.3212 and 0.1943; the fit of Bucholtz is within 0.3 % of it.
  expect(rayleighPerKm(250) / 0.3212).toBeCloseTo(1, 2);
  expect(rayleighPerKm(280) / 0.1943).toBeCloseTo(1, 2);
});

test('40 ppb of ozone and clean air take 1.464 per km at 254.8 nm, 1.234 at 264.9 nm, 0.931 at 272.1 nm', () => {
  // JPL Publication 06-2 (2006) and Rayleigh scattering, summed with numpy; 0.5 % for the fit of the latter.
  const perKm = bandExtinctionsPerM(STANDARD).map((k) => 1000 * k);
  expect(perKm[1]! / 1.464).toBeCloseTo(1, 2);
  expect(perKm[4]! / 1.234).toBeCloseTo(1, 2);
  expect(perKm[6]! / 0.931).toBeCloseTo(1, 2);
});

test('1e9 photons a second at 40 m give 0.02303 events in 20 ms through a lens of 25 mm at 5 % and 1.46 per km', () => {
  // Worked by hand: 1e9 x 0.02 s x 2.4414e-8 x 0.05 x exp(-0.0584).
  const events = 1e9 * 0.02 * eventsPerEmittedPhoton(25, 0.05, 40) * airTransmission([1.46e-3], 40);
  expect(events).toBeCloseTo(0.02303, 5);
});

test('colder and denser air takes more light', () => {
  const warm = bandExtinctionsPerM({ ...STANDARD, temperatureC: 30 });
  bandExtinctionsPerM({ ...STANDARD, temperatureC: -10 }).forEach((k, i) => {
    // Both parts go with the number of molecules: as 303.15 K to 263.15 K.
    expect(k / warm[i]!).toBeCloseTo(303.15 / 263.15, 9);
  });
});
