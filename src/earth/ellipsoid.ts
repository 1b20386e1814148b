/** The WGS 84 ellipsoid. Source: NGA.STND.0036_1.0.0_WGS84, defining constants (from memory). */
export const SEMI_MAJOR_AXIS_M = 6378137;
export const FLATTENING = 1 / 298.257223563;
export const SEMI_MINOR_AXIS_M = SEMI_MAJOR_AXIS_M * (1 - FLATTENING);
/** First eccentricity, squared. */
export const ECCENTRICITY2 = FLATTENING * (2 - FLATTENING);
/** Second eccentricity, squared. */
export const SECOND_ECCENTRICITY2 = ECCENTRICITY2 / (1 - ECCENTRICITY2);
