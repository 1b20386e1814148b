/** What a comparison assumes beyond its inputs; recorded with it. */
export const CHANGE_PARAMETERS = {
  /** Two places further apart than this share of their own differences are not one: chi-square of three dimensions. */
  gateProbability: 0.999,
  /** Weight, in ln, of two findings whose candidates share no component; candidates below 0.001 are not kept. */
  leastShared: 0.001,
  /** How hardware at a structure moves from year to year (swing, load), 1 sigma: level, upright (working values, no source). */
  hardwareMovesM: { levelM: 0.15, upM: 0.05 },
  /** How what hangs in a span moves with temperature, load and wind, 1 sigma: along, across, upright (working values, no source). */
  spanMovesM: { alongM: 0.3, acrossM: 1, upM: 1 },
  /** Change of one and the same discharge from day to day with voltage, humidity and wind, relative, 1 sigma (working value, no source). */
  dayToDayRelativeSigma: 0.3,
  /** What is left of the efficiency's error between two campaigns of one rig: ageing of tube and optics (working value, no source). */
  sameRigRelativeSigma: 0.05,
  /** Share of false ones accepted among the changes told. */
  falseDiscoveryRate: 0.05,
  /** A ratio known no better than this factor either way is too uncertain to be called unchanged. */
  tellableFactor: 3,
  /** Mean number of events at the limit of detection: sets how steeply the chance to find falls below and rises above it. */
  eventsAtLimit: 12,
  /** A sighting that was kept out this near says that something was seen. */
  keptOutWithinM: 1.5,
} as const;
export type ChangeParameters = typeof CHANGE_PARAMETERS;
