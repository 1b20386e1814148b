/** Maps, in English. */
export const maps = {
  maps: 'Maps',
  mapCaption: 'Plan in the local frame: metres east and north of the campaign’s origin ({origin}), north up. {scale}.',
  mapWhole: 'The whole line',
  mapSheet: 'Sheet {n}: {from} to {to}',
  mapOneTo: 'About 1 : {denominator} on A4',
  legendSuspension: 'suspension structure',
  legendTension: 'tension structure',
  legendConductor: 'conductor',
  legendTrack: 'flight track',
  legendUrgent: 'finding, act now or plan soon',
  legendOther: 'other finding',
  legendNotSeen: 'has components not seen',
  north: 'N',
  metreGrid: 'Grid every {step}\u00a0m',
};
