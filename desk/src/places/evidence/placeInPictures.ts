import type { FindingAnswer } from '../../server/answers.ts';

/**
 * Where a finding stands in pictures: their poses are those of the mounting as stated, so what a correction of the mounting moved
 * is shown where these poses see it.
 */
export const placeInPictures = ({ asMounted, positionEnuM }: FindingAnswer): FindingAnswer['positionEnuM'] =>
  asMounted?.positionEnuM ?? positionEnuM;
