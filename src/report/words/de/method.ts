import type { method as inEnglish } from '../en/method.ts';
import type { Like } from '../Like.ts';

export const method: Like<typeof inEnglish> = {
  method: 'Das Verfahren in einfachen Worten',
  methodParagraphs: {
    pair: 'Zwei Kameras fliegen nebeneinander. Die eine sieht nur ultraviolettes Licht von Wellenlängen, die die Ozonschicht vom Boden fernhält, sodass in ihr auch bei Tag fast nichts als elektrische Entladungen erscheint. Die andere nimmt gewöhnliche Farbbilder auf, die die Armaturen zeigen.',
    range:
      'Da die Kameras nicht am selben Ort sitzen, hängt der Versatz ihrer Bilder von der Entfernung ab. Er wurde auf dem Prüfstand bei mehreren Entfernungen vermessen, und jede Überlagerung in diesem Bericht gilt für die Entfernung ihrer eigenen Entladung.',
    events:
      'Das ultraviolette Bild wird gezählt, nicht gemalt: Jedes einzelne Photonenereignis wird gefunden und mit Zeit und Ort aufbewahrt. Ereignisse der Kamera selbst, etwa heiße Pixel, Nachleuchten und kosmische Strahlung, werden unterschieden und gezählt.',
    rays: 'Mit Ort und Lage des Fluggeräts ist jedes Ereignis ein Strahl im Raum. Eine Entladung ist ein Punkt, in dem sich mehr Strahlen kreuzen, als der Untergrund erklärt; so werden auch Quellen gefunden, die in keinem einzelnen Bild auffallen. Die Schwelle folgt aus einer vorab gesetzten Rate falscher Meldungen.',
    place:
      'Der Punkt wird durch Ausgleichung über alle Strahlen aller Überflüge bestimmt. Seine Genauigkeit hat einen Teil, der sich herausmittelt, und einen, der allen Strahlen gemeinsam ist (Satellitenortung, Ausrichtung, Zeit); beide stecken in den Angaben. Die Wahrscheinlichkeiten der Bauteile folgen aus dem Punkt, seiner Genauigkeit und der des Leitungsmodells.',
    rate: 'Die Photonenrate ist, was die Quelle je Sekunde im genannten Band aussendet, zurückgerechnet durch Kamera, Entfernung und Luft. Ihr Bereich enthält Zählung, Flackern und die systematischen Fehler.',
    grade:
      'Die Bewertung folgt einer Regeltafel. In sie gehen ein: die Art des Bauteils, die Rate, ob heile Armaturen bei diesem Wetter leuchten würden, und ob sich die Entladung bei jedem Überflug zeigte. Jeder Befund nennt die angewandte Regel.',
  },
};
