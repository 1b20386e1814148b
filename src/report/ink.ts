/** The colours of the sheet. Violet is for ultraviolet and for nothing else; all the rest is ink in three strengths. */
export const INK = '#1c1b1a';
export const INK_SOFT = '#6b6864';
export const INK_FAINT = '#c9c5bf';
export const PAPER = '#ffffff';
export const ULTRAVIOLET = '#6d1fc0';
