/**
 * ln likelihood ratio that flights with a few background events a frame have shown as their threshold of detection at one false
 * alarm an hour (18.8 and 19.1 on two invented flights; each inspection measures its own).
 */
export const USUAL_THRESHOLD = 19;
