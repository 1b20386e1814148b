import type { maps as inEnglish } from '../en/maps.ts';
import type { Like } from '../Like.ts';

export const maps: Like<typeof inEnglish> = {
  maps: 'Karten',
  mapCaption:
    'Lageplan im örtlichen System: Meter östlich und nördlich des Ursprungs der Kampagne ({origin}), Norden oben. {scale}.',
  mapWhole: 'Die ganze Leitung',
  mapSheet: 'Blatt {n}: {from} bis {to}',
  mapOneTo: 'Etwa 1 : {denominator} auf A4',
  legendSuspension: 'Tragmast',
  legendTension: 'Abspannmast',
  legendConductor: 'Leiterseil',
  legendTrack: 'Flugspur',
  legendUrgent: 'Befund, sofort oder bald',
  legendOther: 'anderer Befund',
  legendNotSeen: 'hat nicht gesehene Bauteile',
  north: 'N',
  metreGrid: 'Gitter alle {step}\u00a0m',
};
