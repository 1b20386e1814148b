/** An ISO instant as a reader expects it: `2026-05-12 06:31:07 UTC`; fractions of a second are cut, not rounded. */
export function utcText(iso: string, named = true): string {
  const match = /^(\d{4}-\d{2}-\d{2})T(\d{2}:\d{2}:\d{2})/.exec(iso);
  if (match === null) throw new RangeError(`utcText: "${iso}" is not an ISO instant`);
  return `${match[1]} ${match[2]}${named ? ' UTC' : ''}`;
}

/** From one instant to a later one; the day is said once where it is the same: `2026-05-12 06:33:12 – 06:33:18 UTC`. */
export function utcSpan(fromIso: string, toIso: string): string {
  const [from, to] = [utcText(fromIso, false), utcText(toIso)];
  return `${from} – ${from.slice(0, 10) === to.slice(0, 10) ? to.slice(11) : to}`;
}
