/** What is given up when recording falls behind the cameras, in this order. */
export type Burden = 'everything' | 'no documentation' | 'no images' | 'nothing';

/** How far behind recording may be, in seconds of stream time, before each thing is given up. */
const GIVE_UP_AT_S: readonly (readonly [Burden, number])[] = [
  ['nothing', 4],
  ['no images', 2],
  ['no documentation', 1],
];
const ORDER: readonly Burden[] = ['everything', 'no documentation', 'no images', 'nothing'];

/**
 * What can be carried at this lag. Events are the last to go: first the images once a second and all colour images, then the images of
 * glows, and only then whole frames. What was given up is taken up again at half the lag, so that it does not flutter.
 */
export function burdenAt(lagS: number, before: Burden): Burden {
  for (const [burden, limitS] of GIVE_UP_AT_S) {
    const wasGivenUp = ORDER.indexOf(before) >= ORDER.indexOf(burden);
    if (lagS >= (wasGivenUp ? limitS / 2 : limitS)) return burden;
  }
  return 'everything';
}
