import type { PhotonRate } from './PhotonRate.ts';

/**
 * The mean rate of one discharge over several flights, weighted by the light that each could take in (events for a photon a second).
 * Counting errors are independent, those of range, air and camera are taken as common: the largest budget stands.
 * Flights that differ by more than their counting intervals allow are not made to agree: the interval then spans all their means.
 */
export function meanPhotonRate(rates: readonly PhotonRate[]): PhotonRate {
  const [first] = rates;
  if (rates.length === 1) return first;
  const grasp = rates.map((rate) => (rate.rateHz > 0 ? rate.events / rate.rateHz : 0));
  const whole = grasp.reduce((sum, g) => sum + g, 0);
  // Where no flight counted anything there is nothing to weigh by.
  if (!(whole > 0)) return rates.reduce((a, b) => (b.interval.upper < a.interval.upper ? b : a));
  const share = grasp.map((g) => g / whole);
  const rateHz = rates.reduce((sum, rate, i) => sum + share[i] * rate.rateHz, 0);
  const down = Math.hypot(...rates.map((rate, i) => share[i] * (rate.rateHz - rate.countingInterval.lower)));
  const up = Math.hypot(...rates.map((rate, i) => share[i] * (rate.countingInterval.upper - rate.rateHz)));
  const used = rates.filter((_, i) => share[i] > 0);
  const differ = used.some((a) => used.some((b) => a.countingInterval.lower > b.countingInterval.upper));
  const countingInterval = {
    lower: Math.max(0, differ ? Math.min(rateHz - down, ...used.map((r) => r.rateHz)) : rateHz - down),
    upper: differ ? Math.max(rateHz + up, ...used.map((r) => r.rateHz)) : rateHz + up,
  };
  const budget = rates.map((rate) => rate.budget).reduce((a, b) => (total(b) > total(a) ? b : a));
  const factor = Math.exp(1.959964 * total(budget));
  const widened = (to: number): number => Math.hypot(Math.log(to / rateHz), Math.log(factor));
  return {
    rateHz,
    countingInterval,
    interval: {
      lower: countingInterval.lower > 0 ? rateHz * Math.exp(-widened(countingInterval.lower)) : 0,
      upper: rateHz * Math.exp(widened(countingInterval.upper)),
    },
    events: rates.reduce((sum, rate) => sum + rate.events, 0),
    overdispersion: Math.max(...rates.map((rate) => rate.overdispersion)),
    bandNm: first.bandNm,
    budget,
    notes: [
      ...new Set(rates.flatMap((rate) => rate.notes)),
      ...(differ
        ? ['The flights differ by more than counting allows: the discharge was not equally strong in all of them.']
        : []),
    ],
  };
}

const total = (budget: PhotonRate['budget']): number => Math.hypot(...budget.map((b) => b.relativeSigma));
