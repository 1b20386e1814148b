/** How the events of a gain setting stand between noise and saturation. */
export interface SingleEventReadout {
  readonly meanChargeDn: number;
  /** Peak of a mean event above the dark level. */
  readonly meanPeakDn: number;
  /** Share of events whose charge exceeds the finder's threshold. */
  readonly foundShare: number;
  /** Share of events with at least one saturated pixel. */
  readonly saturatedShare: number;
}

/**
 * What a gain does to single events. The pulse heights are taken as a gamma law of shape 2 (relative variance 1/2; broad, as
 * multichannel plates give, from memory), the spot as a Gaussian read by a matched filter: its charge has the noise
 * 2 √π σ n, n being the noise of a pixel.
 */
export function singleEventReadout(of: {
  readonly meanChargeDn: number;
  readonly spotSigmaPx: number;
  readonly saturationDn: number;
  readonly pixelNoiseDn: number;
  /** Standard deviations that an event must stand out. */
  readonly thresholdSigmas: number;
}): SingleEventReadout {
  const spotAreaPx = 2 * Math.PI * of.spotSigmaPx ** 2;
  const leastChargeDn = of.thresholdSigmas * 2 * Math.sqrt(Math.PI) * of.spotSigmaPx * of.pixelNoiseDn;
  const above = (chargeDn: number): number => {
    const x = (2 * chargeDn) / of.meanChargeDn;
    return (1 + x) * Math.exp(-x);
  };
  return {
    meanChargeDn: of.meanChargeDn,
    meanPeakDn: of.meanChargeDn / spotAreaPx,
    foundShare: above(leastChargeDn),
    saturatedShare: above(of.saturationDn * spotAreaPx),
  };
}

/**
 * Standard deviation of a single event's position in a dark, noisy image, px per axis: √(8π) σ² n / q.
 * Source: Thompson, Larson & Webb, Biophys. J. 82 (2002) 2775, background term (from memory).
 */
export const eventPositionSigmaPx = (of: {
  readonly meanChargeDn: number;
  readonly spotSigmaPx: number;
  readonly pixelNoiseDn: number;
}): number => (Math.sqrt(8 * Math.PI) * of.spotSigmaPx ** 2 * of.pixelNoiseDn) / of.meanChargeDn;
