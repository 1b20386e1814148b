import type { glossary as inEnglish } from '../en/glossary.ts';
import type { Like } from '../Like.ts';

export const glossary: Like<typeof inEnglish> = {
  glossary: 'Begriffe',
  glossaryItems: {
    corona: [
      'Korona',
      'Entladung in Luft an einer Oberfläche mit zu starkem elektrischem Feld; sichtbar als schwaches, meist ultraviolettes Licht.',
    ],
    solarBlind: [
      'Ultraviolettband',
      'Bei jeder Rate genannte Wellenlängen, in denen das Ozon hoch in der Luft die Sonne abschirmt, sodass sich schwache Entladungen auch bei Tag zeigen.',
    ],
    event: ['Photonenereignis', 'Ein Lichtfleck im Ultraviolettbild, von einem Photon gemacht.'],
    rate: ['Photonenrate', 'Photonen, die die Quelle je Sekunde in alle Richtungen aussendet, im genannten Band.'],
    sighting: ['Sichtung', 'Eine Quelle, durch einen Überflug hindurch verfolgt.'],
    discharge: ['Entladung', 'Eine oder mehrere Sichtungen, an einem Punkt im Raum geortet.'],
    finding: ['Befund', 'Eine bewertete Entladung an einem Bauteil.'],
    interval: ['95-%-Bereich', 'So gebildet, dass er in 95 von 100 Fällen den wahren Wert enthält.'],
    ellipsoid: [
      '95-%-Ellipsoid',
      'So gebildet, dass es in 95 von 100 Fällen den wahren Punkt enthält; angegeben durch seine drei Halbachsen.',
    ],
    datum: [
      'Datum',
      'Der Bezug, von dem Koordinaten und Höhen zählen. Höhen über dem Ellipsoid weichen von Höhen über dem Meer um bis zu etwa 100 m ab.',
    ],
    registration: ['Zuordnung', 'Die Abbildung vom Ultraviolettbild in das Farbbild, für eine Entfernung.'],
    limit: ['Grenze', 'Die schwächste stetige Entladung, die mit 95\u00a0% Wahrscheinlichkeit gefunden worden wäre.'],
    overlay: [
      'Genauigkeit der Überlagerung',
      'Wie weit die ultravioletten Linien neben ihrem wahren Ort im Farbbild liegen können.',
    ],
  },
};
