import type { cautions as inEnglish } from '../en/cautions.ts';
import type { Like } from '../Like.ts';

export const cautions: Like<typeof inEnglish> = {
  cautions: 'Vorsicht',
  cautionItems: {
    advice:
      'Dieser Bericht ist ein Rat. Er ist keine Anweisung zu schalten, zu steigen, zu berühren oder zu arbeiten, und er ersetzt keine vorgeschriebene Prüfung.',
    owner:
      'Die Regeln des Leitungseigentümers sowie Recht, Vorschriften und Normen des Ortes gehen allem vor, was hier steht.',
    qualified:
      'Über Arbeiten an oder nahe der Leitung entscheiden allein befugte Fachkräfte, und nur sie führen sie aus.',
    live: 'Jeder Teil der Leitung gilt als unter Spannung, bis die verantwortliche Person ihn nach dem Verfahren des Eigentümers freigegeben hat.',
    distance:
      'Die Annäherungsabstände, die für Sie, Ihr Werkzeug und Ihr Fluggerät gelten, sind einzuhalten. Keine Entfernung in diesem Bericht ist ein Annäherungsabstand.',
    position:
      'Koordinaten gelten mit der genannten Genauigkeit und im genannten Datum. Leiterseile bewegen sich mit Last, Temperatur und Wind um Meter: Maßgeblich ist das Bauteil, nicht die Koordinate allein.',
    silence:
      'Ein Bauteil ohne Befund ist nur bis zu der dafür genannten Grenze frei, beim Wetter des Flugs. Korona kommt und geht mit Spannung, Feuchte und Regen; viele Fehler leuchten gar nicht.',
    strength:
      'Die Photonenrate sagt nicht, wie nahe ein Bauteil am Versagen ist. Ein schwaches Leuchten kann ernst sein und ein starkes harmlos.',
    confirm: 'Vor kostspieliger Arbeit ist ein Befund auf unabhängigem Weg zu bestätigen.',
  },
};
