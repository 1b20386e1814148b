/** What an inspection assumes beyond its inputs. Part of the provenance: changing a number here makes a new inspection. */
export const PARAMETERS = {
  /** Seed of the scrambles that the detection threshold rests on. */
  seed: 1,
  /** Places farther than this from every conductor and fitting are not searched, metres. */
  corridorRadiusM: 3,
  nearestM: 8,
  farthestM: 120,
  /** Correlation times of the trajectory's errors, seconds (common practice for GNSS/IMU, no source). */
  positionCorrelationS: 60,
  attitudeCorrelationS: 60,
  /** How well the camera's efficiency is known, relative (common practice for a band efficiency from a data sheet, no source). */
  efficiencyRelativeSigma: 0.1,
  /** Fewer frames of a place than this are no pass over it. */
  leastFrames: 20,
} as const;
