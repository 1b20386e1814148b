import type { ReasonKey } from '../../../grade/Reason.ts';

const WIRE =
  'Randfeldstärke {gradient|1} kV/cm effektiv; Einsatz {low|1} bis {high|1} kV/cm effektiv ({surface|term}, Oberflächenfaktor {least} bis {greatest}, relative Luftdichte {airDensity|2}): ';

/** The sentences of `grade/Reason.ts` in German. */
export const REASONS_IN_GERMAN: Readonly<Record<ReasonKey, string>> = {
  'component unknown':
    'Es ist nicht bekannt, worauf die Entladung sitzt; deshalb lässt sich nicht sagen, was zu erwarten wäre.',
  'fitting dry': 'Bei trockenem Wetter ist ein heiles Bauteil dieser Art ({kind|term}) frei von Korona gebaut.',
  'fitting dry, thin air':
    'Bei trockenem Wetter ist ein heiles Bauteil dieser Art ({kind|term}) frei von Korona gebaut; dünne Luft (relative Dichte {airDensity|2}) mindert aber den Abstand dazu.',
  'string wet':
    'Bei {weather|term} leuchten nasse und abtrocknende Stellen auch eines heilen Isolators; bei trockenem Wetter noch einmal ansehen.',
  'fitting wet':
    'Bei {weather|term} können Tropfen auch an einem heilen Bauteil ({kind|term}) leuchten; bei trockenem Wetter noch einmal ansehen.',
  'wire field unknown, dry':
    'Das Feld an diesem Seil ({kind|term}) wurde nicht berechnet; bei trockenem Wetter ist an einem heilen Seil kein Leuchten zu erwarten.',
  'wire field unknown, wet':
    'Das Feld an diesem Seil ({kind|term}) wurde nicht berechnet; bei {weather|term} können Tropfen auch an einem heilen Seil leuchten.',
  'wire expected': `${WIRE}Ein heiles Seil leuchtet auf ganzer Länge.`,
  'wire borderline': `${WIRE}Ob ein heiles Seil leuchtet, hängt von seiner Oberfläche ab.`,
  'wire unexpected': `${WIRE}Ein heiles Seil leuchtet nicht.`,
  'corona loss':
    'Zur Orientierung, keine Messung: Nach Peek verliert ein Seil dieser Art und Oberfläche bei diesem Wetter bis zu {greatestKwPerKm|2} kW/km und Phase, bestenfalls auf den Faktor drei genau.',
  'corona loss none': 'Nach Peek verliert ein heiles Seil bei diesem Wetter keine Leistung durch Korona.',
  strength: '{rate|e1} Photonen/s (95 %: {lower|e1} bis {upper|e1}) von {fromNm} bis {toNm} nm.',
  'passes one': 'Bei 1 Überflug gesehen.',
  'passes many': 'Bei {passes} Überflügen gesehen.',
  change: 'Veränderung seit der letzten Kampagne: {change|term}.',
  'rule fired': 'Regel „{rule|term}“.',
  'mains locked':
    'Die Belichtung von {exposureMs|1} ms umfasst {halves|2} Halbwellen des Netzes, und die Bilder sind mit dem Netz verriegelt: Eine stetige Entladung kann um {sigma|%} % heller, schwächer oder pulsierend erscheinen.',
  'mains beating':
    'Die Belichtung von {exposureMs|1} ms umfasst {halves|2} Halbwellen des Netzes, und die Bilder schweben alle {beatS|1} s gegen das Netz: Eine stetige Entladung kann um {sigma|%} % heller, schwächer oder pulsierend erscheinen.',
  'charge counted': 'Ereignisse überlagern sich: Die Photonen sind aus der Ladung bestimmt, nicht gezählt.',
  'few frames': 'Nur {frames} Bilder zeigen die Stelle.',
  flicker: 'Das Licht flackert: Die Zählung schwankt {times|1}-mal so stark wie bei stetigem Licht.',
  grown:
    'Das {ratio|2}-Fache der früheren Kampagne (95 %: {lower|2} bis {upper|2}); eine unveränderte Entladung würde mit einer Wahrscheinlichkeit von {probability|e0} ebenso verändert scheinen.',
  faded:
    'Das {ratio|2}-Fache der früheren Kampagne (95 %: {lower|2} bis {upper|2}); eine unveränderte Entladung schiene mit einer Wahrscheinlichkeit von {probability|e0} ebenso verändert.',
  unchanged:
    'Das {ratio|2}-Fache der früheren Kampagne (95 %: {lower|2} bis {upper|2}), nicht mehr, als Zählung, Entfernung, Luft und der übliche Wechsel von Tag zu Tag erklären.',
  new: 'In der früheren Kampagne nicht gefunden, die hier {limit|e1} Photonen/s mit 95 % gefunden hätte; diese Entladung hätte sie mit einer Wahrscheinlichkeit von {probability|e0} übersehen.',
  gone: 'In dieser Kampagne nicht gefunden, die hier {limit|e1} Photonen/s mit 95 % gefunden hätte; die frühere Entladung hätte sie mit einer Wahrscheinlichkeit von {probability|e0} übersehen.',
  'not seen now': 'Diese Kampagne hat das Bauteil nicht gesehen: Nicht gesehen heißt nicht verschwunden.',
  'not seen then': 'Die frühere Kampagne hat das Bauteil nicht gesehen: Die Entladung kann schon da gewesen sein.',
  'too weak for now':
    'In dieser Kampagne nicht gefunden, doch hätte sie hier erst {limit|e1} Photonen/s mit 95 % gefunden: Eine so schwache Entladung wie die frühere kann noch da sein (Wahrscheinlichkeit, sie zu übersehen: {probability|%} %).',
  'too weak for then':
    'In der früheren Kampagne nicht gefunden, doch hätte sie hier erst {limit|e1} Photonen/s mit 95 % gefunden: Eine so schwache Entladung kann da gewesen sein (Wahrscheinlichkeit, sie zu übersehen: {probability|%} %).',
  'coverage unknown now':
    'Sie sitzt auf nichts, wofür diese Kampagne eine Abdeckung angibt: Nicht gefunden heißt nicht verschwunden.',
  'coverage unknown then':
    'Sie sitzt auf nichts, wofür die frühere Kampagne eine Abdeckung angibt: Sie kann schon da gewesen sein.',
  'kept out now':
    'Diese Kampagne hat {distance|1} m davon etwas gesehen, das nicht unter die Befunde kam ({because|term}); diese Sichtung ist anzusehen.',
  'kept out then':
    'Die frühere Kampagne hat {distance|1} m davon etwas gesehen, das nicht unter ihre Befunde kam ({because|term}); diese Sichtung ist anzusehen.',
  'other weather':
    'Die frühere Kampagne flog bei anderem Wetter (damals {weatherThen|term}, jetzt {weatherNow|term}); das ändert, was leuchtet.',
  'other band': 'Die beiden Kampagnen maßen in verschiedenen Bändern ({bandThen} nm, jetzt {bandNow} nm).',
  'too uncertain':
    'Das Verhältnis der Raten ist {ratio|2}, doch ist alles von {lower|2} bis {upper|2} möglich (95 %): zu ungewiss für eine Aussage.',
  'rejected in review': 'Einer der beiden Befunde wurde in der Durchsicht verworfen.',
};

/** Names in the data that a reason may carry. */
export const TERMS_IN_GERMAN = {
  dry: 'trockenem Wetter',
  rain: 'Regen',
  fog: 'Nebel',
  mixed: 'wechselndem Wetter',
  'insulator string': 'Isolatorkette',
  clamp: 'Klemme',
  ring: 'Schutzring',
  joint: 'Verbinder',
  spacer: 'Abstandhalter',
  damper: 'Schwingungsdämpfer',
  conductor: 'Leiterseil',
  'earth wire': 'Erdseil',
  'polished wire': 'polierter Draht',
  'roughened, weathered wire': 'aufgerauter, verwitterter Draht',
  'stranded cable': 'verseilter Leiter',
  'aged conductor, dry': 'gealtertes Leiterseil, trocken',
  'aged conductor, rain or fog': 'gealtertes Leiterseil, Regen oder Nebel',
  'new or soiled conductor': 'neues oder verschmutztes Leiterseil',
  'first campaign': 'unbekannt, da dies die erste Kampagne ist',
  new: 'neu',
  grown: 'gewachsen',
  unchanged: 'unverändert',
  faded: 'schwächer',
  gone: 'verschwunden',
  'not comparable': 'nicht vergleichbar',
  'fixed in the image': 'im Bild fest',
  'moves in space': 'bewegt sich im Raum',
  'sun glint': 'Sonnenreflex',
  'single bright flash': 'einzelner heller Blitz',
  'too few frames': 'zu wenige Bilder',
  'off the line': 'abseits der Leitung',
  'sun near the view': 'Sonne nahe der Blickrichtung',
};
