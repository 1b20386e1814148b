/** An ISO instant as a reader expects it: `2026-05-12 06:31:07 UTC`; fractions of a second are cut, not rounded. */
export function utcText(iso: string, named = true): string {
  const match = /^(\d{4}-\d{2}-\d{2})T(\d{2}:\d{2}:\d{2})/.exec(iso);
  if (match === null) throw new RangeError(`utcText: "${iso}" is not an ISO instant`);
  return `${match[1]} ${match[2]}${named ? ' UTC' : ''}`;
}
