import type { summary as inEnglish } from '../en/summary.ts';
import type { Like } from '../Like.ts';

export const summary: Like<typeof inEnglish> = {
  contents: 'Inhalt',
  summary: 'Ergebnis in Kürze',
  summaryLead: {
    one: '{n} Entladung wurde auf der Leitung geortet und bewertet. {urgent} der Befunde verlangen Handeln sofort oder bald.',
    other:
      '{n} Entladungen wurden auf der Leitung geortet und bewertet. {urgent} der Befunde verlangen Handeln sofort oder bald.',
  },
  summaryClear:
    'Von {all} Bauteilen tragen {finding} einen Befund, {clear} sind frei bis zu einer je Bauteil genannten Grenze, und {notSeen} wurden nicht gesehen. „Nicht gesehen“ heißt niemals „frei“.',
  summaryLimit:
    'Bei der Hälfte der freien Bauteile liegt die schwächste Entladung, die mit 95\u00a0% Wahrscheinlichkeit gefunden worden wäre, bei höchstens {median}; beim ungünstigsten bei {worst}.',
  summaryEmpty: 'Es wurde keine Entladung gefunden. Was das wert ist, sagen die Grenzen unter „Abdeckung“.',
  summaryRejected: {
    one: '{n} Befund wurde bei der Prüfung verworfen; er steht im Anhang und ist hier nicht gezählt.',
    other: '{n} Befunde wurden bei der Prüfung verworfen; sie stehen im Anhang und sind hier nicht gezählt.',
  },
  summarySuspects: {
    one: '{n} Sichtung wurde aus genanntem Grund nicht als Befund geführt; siehe Anhang.',
    other: '{n} Sichtungen wurden aus genannten Gründen nicht als Befunde geführt; siehe Anhang.',
  },
  byPriority: 'Befunde nach Dringlichkeit',
  priority: 'Dringlichkeit',
  meaning: 'Bedeutung',
  count: 'Anzahl',
  findingNumbers: 'Befunde',
  tableOfFindings: 'Tabelle der Befunde',
  colFinding: 'Nr.',
  colComponent: 'Bauteil',
  colPlace: 'Mast oder Spannfeld',
  colRate: 'Photonenrate an der Quelle, 95-%-Bereich',
  colAccuracy: 'Genauigkeit, 95\u00a0%',
  colProbability: 'Bauteil richtig mit',
  accuracyShort: '{h}\u00a0m waagerecht, {v}\u00a0m senkrecht',
  priorities: {
    'act now': 'sofort handeln',
    'plan soon': 'bald einplanen',
    'next maintenance': 'nächste Wartung',
    watch: 'beobachten',
    'as expected in this weather': 'bei diesem Wetter zu erwarten',
    'not a finding': 'kein Befund',
  },
  priorityMeanings: {
    'act now':
      'Unverzüglich der Betriebsführung des Eigentümers melden; Versagen oder Gefahr ist nicht auszuschließen.',
    'plan soon': 'Prüfung vor Ort binnen Wochen bis Monaten, nach den Regeln des Eigentümers.',
    'next maintenance': 'Anzusehen, wenn an der Leitung das nächste Mal gearbeitet wird.',
    watch: 'Jetzt keine Arbeit; beim nächsten Flug wieder ansehen.',
    'as expected in this weather': 'Auch heile Armaturen würden unter diesen Bedingungen so leuchten.',
    'not a finding': 'Gesehen, geortet und nicht als Entladung auf der Leitung beurteilt.',
  },
};
