import type { changes as inEnglish } from '../en/changes.ts';
import type { Like } from '../Like.ts';

export const changes: Like<typeof inEnglish> = {
  changes: 'Veränderungen seit der früheren Kampagne',
  changesLead:
    'Jeder Befund dieser Kampagne und der früheren, „{campaign}“ (geflogen {span}), wurde nach Ort und Bauteil gepaart. Verglichen werden die Raten an der Quelle, aus denen Entfernung, Luft, Belichtung, Verstärkung und Empfindlichkeit herausgerechnet sind; was von deren Fehlern bleibt, steckt im Bereich. Veränderungen sind so angegeben, dass von allen höchstens {q} als falsch zu erwarten sind. Was nur eine Kampagne fand, ist nur dann neu oder verschwunden, wenn die andere es hätte finden können: Nicht gesehen heißt nicht verschwunden.',
  changeKinds: {
    'first campaign': 'erste Kampagne',
    new: 'neu',
    grown: 'gewachsen',
    unchanged: 'unverändert',
    faded: 'schwächer',
    gone: 'verschwunden',
    'not comparable': 'nicht vergleichbar',
  },
  changeMeanings: {
    'first campaign': 'Keine frühere Kampagne angegeben.',
    new: 'Jetzt gefunden; die frühere Kampagne hätte sie gefunden.',
    grown: 'Stärker, als Zufall und Fehler erklären.',
    unchanged: 'Gleich, soweit erkennbar; der Bereich schließt eine Änderung um den Faktor drei aus.',
    faded: 'Schwächer, als Zufall und Fehler erklären.',
    gone: 'Damals gefunden; diese Kampagne hätte sie gefunden.',
    'not comparable': 'Aus dem genannten Grund lässt sich nichts sagen.',
  },
  changesNote: 'Ergebnis der früheren Kampagne: {hash}; verglichen mit {software}. {remarks}',
  colChange: 'Veränderung',
  colThen: 'Rate damals, Photonen/s',
  colNow: 'Rate jetzt, Photonen/s',
  colRatio: 'Verhältnis, 95\u00a0%',
  colBecause: 'Warum so angegeben',
  history: 'Vorgeschichte',
  colCampaign: 'Kampagne',
  colSeen: 'Gesehen',
  colRange: 'Entfernung',
  colWeather: 'Wetter',
  earlierCaption: 'Die frühere Kampagne: {utc}, Flug {flight}, Entfernung {range}\u00a0m.',
  summaryChanges:
    'Gegenüber „{campaign}“: {new} neu, {grown} gewachsen, {unchanged} unverändert, {faded} schwächer, {gone} verschwunden, {notComparable} nicht vergleichbar.',
};
