import type { RecordedSentence } from '../recordedSentences.ts';

/** What the evaluation writes in English, in German. */
export const RECORDED_IN_GERMAN: Readonly<Record<RecordedSentence, string>> = {
  "Advice only: the line owner's rules and qualified people decide.":
    'Nur Rat: Es entscheiden die Regeln des Leitungseigentümers und befugte Fachkräfte.',
  'strong and growing on an insulator or what carries load':
    'stark und zunehmend an einem Isolator oder tragenden Teil',
  'Have qualified people look at the component soon, from the ground or by climbing, with other methods beside this one.':
    'Das Bauteil bald von befugten Fachkräften ansehen lassen, vom Boden oder durch Besteigen, auch mit anderen Verfahren.',
  'strong on an insulator or what carries load': 'stark an einem Isolator oder tragenden Teil',
  'Have the component checked closely: an insulator for cracks, dirt and its end fittings, a clamp or joint for seat and wear.':
    'Das Bauteil genau prüfen lassen: einen Isolator auf Risse, Schmutz und seine Endarmaturen, Klemme oder Verbinder auf Sitz und Verschleiß.',
  'strong on a conductor where none is expected': 'stark an einem Leiterseil, wo keines zu erwarten ist',
  'Look for broken or lifted strands and for foreign bodies at this place of the wire.':
    'An dieser Stelle des Seils nach gebrochenen oder abstehenden Drähten und nach Fremdkörpern sehen.',
  'grown since the last campaign': 'seit der letzten Kampagne gewachsen',
  'Compare the pictures of both campaigns and have the component checked.':
    'Die Bilder beider Kampagnen vergleichen und das Bauteil prüfen lassen.',
  'as the weather makes it': 'wie es das Wetter macht',
  'Look again in dry weather before concluding anything.':
    'Vor jedem Schluss bei trockenem Wetter noch einmal ansehen.',
  'on fittings, in dry weather': 'an Armaturen, bei trockenem Wetter',
  'Check seat and state of the fitting at the next planned work on this structure; a loose or bent ring is refitted or replaced.':
    'Sitz und Zustand der Armatur bei der nächsten geplanten Arbeit an diesem Mast prüfen; ein loser oder verbogener Ring wird befestigt oder ersetzt.',
  'seen by several passes': 'bei mehreren Überflügen gesehen',
  'Repeat at the next flight, in dry weather.': 'Beim nächsten Flug wiederholen, bei trockenem Wetter.',
  'on nothing of the line model': 'an nichts im Leitungsmodell',
  'Look at the pictures for what is there; correct the line model where it lacks a component.':
    'In den Bildern nachsehen, was dort ist; das Leitungsmodell berichtigen, wo ihm ein Bauteil fehlt.',
  'everything else': 'alles andere',

  'Events overlap: photons are taken from the charge, not counted.':
    'Ereignisse überlagern sich: Photonen aus der Ladung bestimmt, nicht gezählt.',
  range: 'Entfernung',
  air: 'Luft',
  'camera efficiency': 'Empfindlichkeit der Kamera',
  'evenness of the camera': 'Gleichmäßigkeit der Kamera',
  'charge of one event': 'Ladung eines Ereignisses',
  'mains phase': 'Netzphase',

  'The place fits {component} only in part: look at the pictures for hardware that the line model does not hold, and check the line model there.':
    'Der Ort passt nur zum Teil zu {component}: in den Bildern nach Armaturen suchen, die dem Leitungsmodell fehlen, und dieses dort prüfen.',
  'Nothing of the line model lies here: look at the pictures, and check the line model.':
    'Hier liegt nichts aus dem Leitungsmodell: die Bilder ansehen und das Leitungsmodell prüfen.',
  '{pair} touch where the discharge lies: no pass from the air tells them apart; look from close by.':
    '{pair} berühren sich, wo die Entladung sitzt: Kein Überflug kann sie trennen; aus der Nähe ansehen.',
  '{best} and {second}': '{best} und {second}',
  '{pair} lie {apart} m apart, where the position is uncertain by {sigma} m and the line model by {line} m (1 sigma)':
    '{pair} liegen {apart} m auseinander, wo die Position auf {sigma} m und das Leitungsmodell auf {line} m (1 Sigma) unsicher ist',
  '{doubt}: a survey of these components would settle it.':
    '{doubt}: Eine Vermessung dieser Bauteile würde es entscheiden.',
  '{doubt}: another pass {seenFrom}, at right angles to the present view, would settle it.':
    '{doubt}: Ein weiterer Überflug {seenFrom}, quer zur jetzigen Sicht, würde es entscheiden.',
  'from another height': 'in anderer Höhe',
  'looking north or south': 'mit Blick nach Norden oder Süden',
  'looking north-east or south-west': 'mit Blick nach Nordosten oder Südwesten',
  'looking east or west': 'mit Blick nach Osten oder Westen',
  'looking south-east or north-west': 'mit Blick nach Südosten oder Nordwesten',

  'not seen': 'nicht gesehen',
  'only {share} % of it was seen': 'nur zu {share} % gesehen',
  'hidden by {id}: from another side or height': 'von {id} verdeckt: von anderer Seite oder in anderer Höhe',
  'seen, but only a stronger discharge would have been found':
    'gesehen, doch wäre nur eine stärkere Entladung gefunden worden',
  '{id} and others keep {share} % of its light away': '{id} und andere halten {share} % seines Lichts ab',
  'not placed: {because}': 'nicht geortet: {because}',
  'too few rays': 'zu wenige Strahlen',
  'rays nearly parallel': 'Strahlen fast parallel',
  'behind the camera': 'hinter der Kamera',
  'no convergence': 'die Ausgleichung fand kein Ende',

  'frames {because}': 'Bilder {because}',
  'before the track': 'vor der Flugbahn',
  'after the track': 'nach der Flugbahn',
  'in a gap': 'in einer Lücke',
  'no remarks': 'nichts zu bemerken',
  'nominal values, no bench run': 'Nennwerte, kein Messlauf',
  '{weight}: {name} ({detail})': '{weight}: {name} ({detail})',
  note: 'Hinweis',
  warning: 'Warnung',
  fault: 'Fehler',
  gap: 'Lücke',
  '{length} s without a row; {outcome}': '{length} s ohne Zeile; {outcome}',
  'bridged, with a covariance that grows': 'überbrückt, mit wachsender Kovarianz',
  'no poses inside': 'darin keine Lage',
  jump: 'Sprung',
  '{far} m that the speed does not explain': '{far} m, die die Geschwindigkeit nicht erklärt',
  'repeated rows': 'wiederholte Zeilen',
  'weaker fix': 'schwächere Ortung',
  'the receiver says "{fix}" for {length} s, "{usual}" elsewhere':
    'der Empfänger meldet {length} s lang „{fix}“, sonst „{usual}“',
  'read with assumptions': 'mit Annahmen gelesen',
  'no standard deviations': 'keine Standardabweichungen',
  'standard deviations of zero': 'Standardabweichungen von null',
  'poor stretch': 'schlechter Abschnitt',
  'position good to {worst} m at worst, {usual} m elsewhere':
    'Position schlimmstenfalls auf {worst} m genau, sonst auf {usual} m',
  'attitude never changes': 'die Lage ändert sich nie',
  'glows do not come to rest': 'Leuchtpunkte kommen nicht zur Ruhe',
  'clock of the trajectory off': 'die Uhr der Flugbahn geht falsch',
  'headings look like grid headings': 'die Kurse scheinen von Gitternord zu zählen',
  'headings look turned': 'die Kurse scheinen verdreht',
  'the flight is elsewhere': 'der Flug ist anderswo',
  'latitude and longitude look swapped': 'Breite und Länge scheinen vertauscht',
  'the flight looks below the ground': 'der Flug scheint unter dem Boden',
  'heights of the flight look like feet': 'die Höhen des Flugs sind wohl in Fuß',
  'heights of the flight look like heights above the sea': 'die Höhen des Flugs sind wohl Höhen über dem Meer',
  'heights of the line look like heights above the sea': 'die Höhen der Leitung sind wohl Höhen über dem Meer',
  'kept: glow': 'aufbewahrt: Leuchten',
  'kept: one a second': 'aufbewahrt: eines je Sekunde',
  'kept: warm-up': 'aufbewahrt: Anlauf',
  'kept: everything wanted': 'aufbewahrt: alles gewünscht',
  'reduced to events': 'auf Ereignisse gekürzt',
  'not kept: no glow near': 'nicht aufbewahrt: kein Leuchten in der Nähe',
  'reduced to events: could not keep up': 'auf Ereignisse gekürzt: kam nicht mit',
  'dropped: could not keep up': 'verloren: kam nicht mit',
  'dropped: late': 'verloren: zu spät',
  'dropped: repeated': 'verloren: doppelt',
  'dropped: unreadable': 'verloren: unlesbar',
  'dropped: disk full': 'verloren: Datenträger voll',

  'The two campaigns have different line models; {lost} components of this one are not in the earlier one by name, and findings there are matched by place alone.':
    'Die beiden Kampagnen haben verschiedene Leitungsmodelle; {lost} Bauteile von diesem fehlen im früheren dem Namen nach, und Befunde dort sind allein nach dem Ort gepaart.',
  '{rejected} {findings} of the earlier campaign had been rejected in review and count as not there.':
    '{rejected} {findings} der früheren Kampagne: bei der Durchsicht verworfen, zählt als nicht vorhanden.',
  finding: 'Befund',
  findings: 'Befunde',

  uv: 'ultraviolett',
  colour: 'Farbe',
  sweeps: 'Durchgänge',
  'blocks of time': 'Zeitabschnitte',
  shift: 'Verschiebung',
  similarity: 'Ähnlichkeit',
  affine: 'affin',
  projective: 'projektiv',
  'polynomial degree 2': 'Polynom 2. Grades',
  'polynomial degree 3': 'Polynom 3. Grades',
  'two-camera': 'Zweikameramodell',
  'two-camera with residual field': 'Zweikameramodell mit Restfeld',
  'lamps: {because}': 'Lampen: {because}',
  'discs: {because}': 'Scheiben: {because}',
  'chessboard: {because}': 'Schachbrett: {because}',
  'too few spots': 'zu wenige Flecke',
  'no arrangement fits the layout': 'keine Anordnung passt zur Tafel',
  'two arrangements fit alike': 'zwei Anordnungen passen gleich gut',
  'no lamps at the same instant': 'keine Lampen zur selben Zeit',
  'uv frame outside every sweep': 'Ultraviolettbild außerhalb der Durchgänge',
  'colour frame outside every sweep': 'Farbbild außerhalb der Durchgänge',
  'no region that both support': 'kein Gebiet, das beide stützen',
  'images of another size': 'Bilder anderer Größe',
  'one range only ({near} to {far} m): parallax at other ranges rests on the nominal baseline':
    'nur eine Entfernung ({near} bis {far} m): Die Parallaxe bei anderen beruht auf dem Nennwert der Basis',
  'Record a second sweep at half or twice this range or further.':
    'Einen zweiten Durchgang in höchstens der halben oder mindestens der doppelten Entfernung aufnehmen.',
  'the baseline is known no better ({sigma} mm) than rig.json states it':
    'die Basis ist nicht besser bekannt ({sigma} mm), als rig.json sie angibt',
  'Record a sweep nearer to the rig.': 'Einen Durchgang näher am Kamerapaar aufnehmen.',
  'the target covered {width} % of the width and {height} % of the height of the ultraviolet image':
    'das Ziel deckte {width} % der Breite und {height} % der Höhe des Ultraviolettbilds',
  'Carry the target into all four corners of the ultraviolet image.':
    'Das Ziel in alle vier Ecken des Ultraviolettbilds tragen.',
  'Use a board with at least five marks, not all on one line.':
    'Eine Tafel mit mindestens fünf Marken benutzen, nicht alle auf einer Geraden.',

  'position of the trajectory': 'Position der Flugbahn',
  'roll and pitch': 'Rollen und Nicken',
  heading: 'Kurs',
  boresight: 'Ausrichtung der Kamera',
  'lever arm': 'Hebelarm',
  'time, by the speed': 'Zeit, durch die Geschwindigkeit',
  'time, by the turning': 'Zeit, durch die Drehung',
  'one event in the image': 'ein Ereignis im Bild',
  "These distances are for qualified workers. Clearances in flight are another matter: local law, the rules of the line's owner and the competent person decide. The figures hold up to 900 m above the sea.":
    'Diese Abstände gelten für befugte Fachkräfte. Abstände im Flug sind etwas anderes: Es entscheiden das Recht des Ortes, die Regeln des Leitungseigentümers und die verantwortliche Person. Die Zahlen gelten bis 900 m über dem Meer.',
  'minimum approach distance, phase to ground, up to {range} kV':
    'kleinster Annäherungsabstand, Leiter gegen Erde, bis {range} kV',
  'outer limit of the vicinity zone, {nominal} kV (danger zone {danger} m)':
    'äußere Grenze der Annäherungszone, {nominal} kV (Gefahrenzone {danger} m)',
  'non-electrical work, up to {nominal} kV': 'nichtelektrotechnische Arbeiten, bis {nominal} kV',
  'The nearest standoff is below {distance} m, {publication}, {meaning}; acknowledged.':
    'Der kleinste Abstand ist kleiner als {distance} m, {publication}, {meaning}; zur Kenntnis genommen.',
  'a standoff of {standoff} m is nearer than {distance} m ({publication}, {meaning})':
    'ein Abstand von {standoff} m ist kleiner als {distance} m ({publication}, {meaning})',
  'No voltage is known (--voltage, or a line): approach distances were not looked at.':
    'Keine Spannung bekannt (--voltage oder eine Leitung): Annäherungsabstände wurden nicht geprüft.',
  'At {standoff} m and {speed} m/s': 'Bei {standoff} m und {speed} m/s',
  '{where}: an inspection searches from {near} to {far} m only.':
    '{where}: Die Auswertung sucht nur von {near} bis {far} m.',
  '{where}: {frames} frames in view, fewer than the {least} that a pass needs.':
    '{where}: {frames} Bilder im Blick, weniger als die {least}, die ein Überflug braucht.',
  '{where}: the colour image smears over {smear} px.': '{where}: Das Farbbild verwischt über {smear} px.',
  'At this gain {share} % of the single events stand out of the noise: raise it.':
    'Bei dieser Verstärkung ragen {share} % der einzelnen Ereignisse aus dem Rauschen: sie erhöhen.',
  'At this gain {share} % of the single events saturate: lower it.':
    'Bei dieser Verstärkung sättigen {share} % der einzelnen Ereignisse: sie senken.',
  'position good to {position} m, roll and pitch to {tilt}°, heading to {heading}°, turning at {turn}°/s':
    'Position auf {position} m genau, Rollen und Nicken auf {tilt}°, Kurs auf {heading}°, Drehung {turn}°/s',
  '{background} background events a frame, dark noise {noise} DN a pixel, detection from a ln likelihood ratio of {threshold}':
    '{background} Untergrundereignisse je Bild, Dunkelrauschen {noise} DN je Pixel, gefunden ab einem ln-Likelihood-Verhältnis von {threshold}',
  'clean air at {temperature} °C; {assumed}': 'reine Luft bei {temperature} °C; {assumed}',
  'ozone {ppb} ± {sigma} ppb': 'Ozon {ppb} ± {sigma} ppb',
  'haze {perKm} ± {sigma} per km': 'Dunst {perKm} ± {sigma} je km',
  'nominal lenses: no registration was given, which widens every position':
    'Nennwerte der Objektive: Keine Registrierung wurde genannt, was jede Position unsicherer macht',
  'not in view for two frames': 'keine zwei Bilder lang im Blick',
  'the camera looks down too steeply for passes beside the line':
    'die Kamera blickt für Überflüge neben der Leitung zu steil nach unten',
  'the line has no two towers to fly between': 'die Leitung hat keine zwei Masten, zwischen denen zu fliegen wäre',
  'no pass keeps the standoff everywhere': 'kein Überflug hält überall den Abstand',
  'the campaign has no structures': 'die Kampagne hat keine Masten',
};
