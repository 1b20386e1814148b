import type { handOver as inEnglish } from '../en/handOver.ts';
import type { Like } from '../Like.ts';

export const handOver: Like<typeof inEnglish> = {
  evidenceMore: 'Mehr zu dieser Kampagne',
  evidenceSearch: 'Bauteil, Mast, Nummer suchen',
  evidenceAll: 'alle',
  evidenceOpen: 'Befund öffnen',
  evidenceShown: '{n} von {all} Befunden',
  evidencePrevious: 'Zurück',
  evidenceNext: 'Weiter',
  evidenceLines: 'Ultraviolette Linien über dem Bild',
  evidenceLanguage: 'Sprache',
  noScript:
    'Diese Seite braucht Skripte; sie sind Teil der Seite und laden nichts von anderswo. Die Tabellen daneben enthalten dieselben Befunde.',
};
