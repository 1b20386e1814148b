/** Rules, advice and names of errors as the evaluation records them, with their German. */
export const RECORDED_IN_GERMAN: ReadonlyMap<string, string> = new Map([
  [
    "Advice only: the line owner's rules and qualified people decide.",
    'Nur Rat: Es entscheiden die Regeln des Leitungseigentümers und befugte Fachkräfte.',
  ],
  [
    'strong and growing on an insulator or what carries load',
    'stark und zunehmend an einem Isolator oder tragenden Teil',
  ],
  [
    'Have qualified people look at the component soon, from the ground or by climbing, with other methods beside this one.',
    'Das Bauteil bald von befugten Fachkräften ansehen lassen, vom Boden oder durch Besteigen, auch mit anderen Verfahren.',
  ],
  ['strong on an insulator or what carries load', 'stark an einem Isolator oder tragenden Teil'],
  [
    'Have the component checked closely: an insulator for cracks, dirt and its end fittings, a clamp or joint for seat and wear.',
    'Das Bauteil genau prüfen lassen: einen Isolator auf Risse, Schmutz und seine Endarmaturen, Klemme oder Verbinder auf Sitz und Verschleiß.',
  ],
  ['strong on a conductor where none is expected', 'stark an einem Leiterseil, wo keines zu erwarten ist'],
  [
    'Look for broken or lifted strands and for foreign bodies at this place of the wire.',
    'An dieser Stelle des Seils nach gebrochenen oder abstehenden Drähten und nach Fremdkörpern sehen.',
  ],
  ['grown since the last campaign', 'seit der letzten Kampagne gewachsen'],
  [
    'Compare the pictures of both campaigns and have the component checked.',
    'Die Bilder beider Kampagnen vergleichen und das Bauteil prüfen lassen.',
  ],
  ['as the weather makes it', 'wie es das Wetter macht'],
  [
    'Look again in dry weather before concluding anything.',
    'Vor jedem Schluss bei trockenem Wetter noch einmal ansehen.',
  ],
  ['on fittings, in dry weather', 'an Armaturen, bei trockenem Wetter'],
  [
    'Check seat and state of the fitting at the next planned work on this structure; a loose or bent ring is refitted or replaced.',
    'Sitz und Zustand der Armatur bei der nächsten geplanten Arbeit an diesem Mast prüfen; ein loser oder verbogener Ring wird befestigt oder ersetzt.',
  ],
  ['seen by several passes', 'bei mehreren Überflügen gesehen'],
  ['Repeat at the next flight, in dry weather.', 'Beim nächsten Flug wiederholen, bei trockenem Wetter.'],
  ['on nothing of the line model', 'an nichts im Leitungsmodell'],
  [
    'Look at the pictures for what is there; correct the line model where it lacks a component.',
    'In den Bildern nachsehen, was dort ist; das Leitungsmodell berichtigen, wo ihm ein Bauteil fehlt.',
  ],
  ['everything else', 'alles andere'],
  [
    'Events overlap: photons are taken from the charge, not counted.',
    'Ereignisse überlagern sich: Photonen aus der Ladung bestimmt, nicht gezählt.',
  ],
  ['range', 'Entfernung'],
  ['air', 'Luft'],
  ['efficiency', 'Empfindlichkeit'],
  ['camera efficiency', 'Empfindlichkeit der Kamera'],
  ['charge of one event', 'Ladung eines Ereignisses'],
  ['mains phase', 'Netzphase'],
]);
