import type { coverage as inEnglish } from '../en/coverage.ts';
import type { Like } from '../Like.ts';

export const coverage: Like<typeof inEnglish> = {
  coverage: 'Abdeckung',
  coverageLead:
    'Für jedes Bauteil des Leitungsmodells: ob es einen Befund trägt, frei ist oder nicht gesehen wurde. „Frei“ heißt, dass eine stetige Entladung der genannten Rate mit 95\u00a0% Wahrscheinlichkeit gefunden worden wäre; eine schwächere kann da sein. „Nicht gesehen“ heißt, dass sich nichts sagen lässt. Ein bei der Prüfung verworfener Befund zählt hier weiter als Befund.',
  flyAgain: 'Noch einmal zu befliegen',
  flyAgainLead:
    'Über diese lässt sich nichts sagen, aus dem Grund daneben. Verdecktes zeigt sich von einer anderen Seite oder aus einer anderen Höhe; es gelten die Mindestabstände und die Regeln derer, die für die Leitung und für den Flug verantwortlich sind.',
  colWhat: 'Bauteile',
  colWhy: 'Grund',
  whyNotSeen: 'nicht in genügend Bildern im Blick',
  whyPart: 'nur zum Teil gesehen',
  whyHidden: 'verdeckt durch {id}',
  coverageByKind: 'Nach Art des Bauteils',
  coverageAll: 'Bauteil für Bauteil',
  coverageSome: 'Nicht frei: Bauteil für Bauteil',
  coverageShortened:
    'Die Leitung hat {all} Bauteile. Die freien sind in dieser Tabelle weggelassen; die Datei coverage.csv neben diesem Bericht nennt jedes mit seiner Grenze.',
  colKind: 'Art',
  colId: 'Name',
  colCircuitPhase: 'Stromkreis, Phase',
  colAll: 'Alle',
  colState: 'Zustand',
  colFrames: 'Bilder mit Sicht',
  colNearest: 'Kürzeste Entfernung',
  colLimit: 'Gefunden ab',
  colMedianLimit: 'Mittlere Grenze der freien (Median)',
  states: { finding: 'Befund', clear: 'frei', 'not seen': 'nicht gesehen' },
};
