/** Geodetic WGS 84: longitude and latitude in degrees, ellipsoidal height in metres (the order of GeoJSON). */
export type Llh = readonly [lonDeg: number, latDeg: number, heightM: number];
