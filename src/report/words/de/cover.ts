import type { cover as inEnglish } from '../en/cover.ts';
import type { Like } from '../Like.ts';

export const cover: Like<typeof inEnglish> = {
  language: 'de',
  region: 'DE',
  decimalMark: ',',
  to: 'bis',
  and: 'und',
  unknown: 'nicht aufgezeichnet',
  none: 'keine',
  yes: 'ja',
  no: 'nein',

  reportKind: 'Befliegung einer Hochspannungsleitung auf Koronaentladungen',
  reportTitle: 'Koronabefliegung {line}',
  author: 'Corposant',
  pageOf: 'Seite {page} von {pages}',
  volumeOf: 'Band {n} von {all}',
  coverLine: 'Leitung',
  coverOwner: 'Eigentümer',
  coverVoltage: 'Spannung',
  coverVoltageValue: '{kv}\u00a0kV, Leiter gegen Leiter, Effektivwert',
  coverCampaign: 'Kampagne',
  coverFlown: 'Geflogen',
  coverFlights: 'Flüge',
  coverLength: 'Leitungslänge im Modell',
  coverSoftware: 'Ausgewertet mit',
  coverReview: 'Prüfung',
  coverReviewValue: '{reviewed} von {all} Befunden durch eine prüfende Person entschieden',
  coverSign: 'Verantwortliche Ingenieurin oder verantwortlicher Ingenieur, Datum, Unterschrift',
  coverAdvice:
    'Dieser Bericht gibt Rat. Er ordnet keine Schalthandlung und keine Arbeit an. Die Regeln des Leitungseigentümers, das örtliche Recht und das Urteil befugter Fachkräfte gehen vor; siehe „Vorsicht“.',
  figureFindings: { one: 'Befund', other: 'Befunde' },
  figureActNow: 'sofort zu behandeln',
  figureClear: 'Bauteile frei bis zu einer Grenze',
  figureNotSeen: 'Bauteile nicht gesehen',
  figureOf: 'von {all}',
};
