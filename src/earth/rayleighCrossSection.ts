/**
 * Rayleigh scattering cross-section of a molecule of air, cm2, at a wavelength of 200 to 1000 nm (in air of 360 ppm CO2).
 * Accuracy: 0.1 %. Source: Bodhaine et al., J. Atmos. Oceanic Technol. 16 (1999) 1854, eq. 29.
 */
export function rayleighCrossSectionCm2(wavelengthNm: number): number {
  const l2 = (wavelengthNm / 1000) ** 2;
  return (1e-28 * (1.0455996 - 341.29061 / l2 - 0.9023085 * l2)) / (1 + 0.0027059889 / l2 - 85.968563 * l2);
}
