/** The independent streams of chance that a world's recordings draw from, told apart by their key; never reuse one. */
export const CHANCE = {
  flightUv: 11,
  benchUv: 13,
  camera: 15,
  trajectory: 16,
  colour: 17,
  benchColour: 18,
  series: 19,
} as const;
