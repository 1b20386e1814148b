import { InputError } from '../input/InputError.ts';
import { OZONE_FROM_NM, OZONE_TO_NM, ozoneCrossSectionCm2 } from './ozoneCrossSection.ts';
import { rayleighCrossSectionCm2 } from './rayleighCrossSection.ts';

/** What a flight's conditions tell of the air; what is missing is assumed, and said. */
export interface OpticalAir {
  readonly temperatureC: number;
  readonly pressureHPa: number;
  readonly ozonePpb?: number;
  readonly ozoneSigmaPpb?: number;
  readonly visibilityKm?: number;
  readonly weather?: 'dry' | 'rain' | 'fog';
}

export interface ExtinctionPart {
  readonly name: 'scattering by air' | 'ozone' | 'haze' | 'spectrum within the band';
  readonly perKm: number;
  readonly sigmaPerKm: number;
}

/** How much of a beam is lost a kilometre: the share exp(-perKm · km) gets through. */
export interface Extinction {
  readonly perKm: number;
  /** One standard deviation of the whole; the same air along a whole pass, so it does not average out. */
  readonly sigmaPerKm: number;
  /** Its parts; they add up to perKm, and their deviations in quadrature to sigmaPerKm. */
  readonly parts: readonly ExtinctionPart[];
  /** What was not measured and had to be assumed, in words. */
  readonly assumed: readonly string[];
}

/** Surface ozone in clean air is 10 to 80 ppb by the hour: middle and deviation where none was measured. */
export const USUAL_OZONE_PPB = 40;
export const USUAL_OZONE_SIGMA_PPB = 30;
const OZONE_TABLE_RELATIVE_SIGMA = 0.015;

/** Haze adds about 0.1 to 1 per km in this band (from memory): middle in the logarithm, and deviation, where unknown. */
const USUAL_HAZE_PER_KM = 0.3;
const USUAL_HAZE_SIGMA_PER_KM = 0.25;
/** Fog is by definition a visibility below 1 km. */
const FOG_VISIBILITY_KM = 0.5;
/** Contrast threshold of 2 %: extinction at 550 nm times visibility. Source: Koschmieder 1924 (from memory). */
const KOSCHMIEDER = 3.912;
/** Haze falls with wavelength to this power, usually 0.8 to 1.8 over land (Ångström, from memory); droplets do not. */
const HAZE_EXPONENT = 1.3;
const HAZE_EXPONENT_SIGMA = 0.5;

/** Molecules a cm3 of air. Exact gas constant; ideal gas. */
export const moleculesPerCm3 = (temperatureC: number, pressureHPa: number): number =>
  (pressureHPa * 100) / (1.380649e-23 * (temperatureC + 273.15)) / 1e6;

/**
 * Extinction in a stated band, averaged over wavelength with equal weight: what the source's spectrum and the filter
 * prefer inside the band is unknown, and its share of the uncertainty is a part of its own. The mean of the extinction
 * stands for the mean of the transmission, which is right to 1e-3 up to 100 m.
 * A scattered photon counts as lost, which holds for the narrow spot that is counted.
 * @param bandNm  [from, to], inside 239.5 to 310 nm
 * @throws InputError for a band outside
 */
export function ultravioletExtinction(air: OpticalAir, bandNm: readonly [number, number]): Extinction {
  const [fromNm, toNm] = bandNm;
  if (!(fromNm >= OZONE_FROM_NM && toNm <= OZONE_TO_NM && fromNm < toNm))
    throw new InputError({
      file: 'rig.json',
      field: 'cameras.uv.bandNm',
      found: `${fromNm} to ${toNm} nm`,
      expected: `a band inside ${OZONE_FROM_NM} to ${OZONE_TO_NM} nm, the shorter wavelength first`,
      todo: 'Give the half-power band of the solar-blind filter in nm.',
    });
  const perCm = moleculesPerCm3(air.temperatureC, air.pressureHPa);
  const ozonePpb = air.ozonePpb ?? USUAL_OZONE_PPB;
  const ozoneSigmaPpb = air.ozoneSigmaPpb ?? (air.ozonePpb === undefined ? USUAL_OZONE_SIGMA_PPB : 0.1 * ozonePpb);
  const steps = Math.max(8, Math.ceil(toNm - fromNm));
  let rayleigh = 0;
  let ozonePerPpb = 0;
  let sum = 0;
  let sum2 = 0;
  for (let i = 0; i < steps; i++) {
    const nm = fromNm + ((i + 0.5) * (toNm - fromNm)) / steps;
    const scattered = rayleighCrossSectionCm2(nm) * perCm * 1e5;
    const absorbed = ozoneCrossSectionCm2(nm) * perCm * 1e-9 * 1e5;
    rayleigh += scattered / steps;
    ozonePerPpb += absorbed / steps;
    const total = scattered + absorbed * ozonePpb;
    sum += total / steps;
    sum2 += (total * total) / steps;
  }
  const haze = hazePart(air, (fromNm + toNm) / 2);
  const parts: ExtinctionPart[] = [
    // Temperature and pressure are known to a per cent along the path.
    { name: 'scattering by air', perKm: rayleigh, sigmaPerKm: 0.01 * rayleigh },
    {
      name: 'ozone',
      perKm: ozonePerPpb * ozonePpb,
      sigmaPerKm: ozonePerPpb * Math.hypot(ozoneSigmaPpb, OZONE_TABLE_RELATIVE_SIGMA * ozonePpb),
    },
    haze,
    { name: 'spectrum within the band', perKm: 0, sigmaPerKm: Math.sqrt(Math.max(0, sum2 - sum * sum)) },
  ];
  const assumed: string[] = [];
  if (air.ozonePpb === undefined) assumed.push(`ozone ${USUAL_OZONE_PPB} ± ${USUAL_OZONE_SIGMA_PPB} ppb`);
  if (air.visibilityKm === undefined)
    assumed.push(`haze ${haze.perKm.toFixed(1)} ± ${haze.sigmaPerKm.toFixed(1)} per km`);
  return {
    perKm: parts.reduce((total, part) => total + part.perKm, 0),
    sigmaPerKm: Math.hypot(...parts.map((part) => part.sigmaPerKm)),
    parts,
    assumed,
  };
}

function hazePart(air: OpticalAir, middleNm: number): ExtinctionPart {
  const fog = air.weather === 'fog';
  if (air.visibilityKm === undefined && !fog)
    return { name: 'haze', perKm: USUAL_HAZE_PER_KM, sigmaPerKm: USUAL_HAZE_SIGMA_PER_KM };
  const visibilityKm = air.visibilityKm ?? FOG_VISIBILITY_KM;
  const at550 = Math.max(0, KOSCHMIEDER / visibilityKm - rayleighCrossSectionCm2(550) * 2.547e19 * 1e5);
  // Droplets of fog and rain are large against the wavelength.
  const exponent = fog || air.weather === 'rain' ? 0 : HAZE_EXPONENT;
  const perKm = at550 * (550 / middleNm) ** exponent;
  const relative = Math.hypot(
    0.2,
    HAZE_EXPONENT_SIGMA * Math.log(550 / middleNm),
    air.visibilityKm === undefined ? 0.5 : 0,
  );
  return { name: 'haze', perKm, sigmaPerKm: relative * perKm };
}

/** The share of a beam that gets through. */
export const transmission = (extinctionPerKm: number, rangeM: number): number =>
  Math.exp((-extinctionPerKm * rangeM) / 1000);
