import { type Reason, type ReasonCatalogue, reasonText } from './Reason.ts';

/** The reasons in English, as they are also written into the campaign for whoever opens it in a GIS. */
export const REASONS_IN_ENGLISH: ReasonCatalogue = {
  sentences: {
    'component unknown': 'It is not known what the discharge sits on, so nothing can be said of what to expect.',
    'fitting dry': 'A sound {kind|term} is made to be free of corona in dry weather.',
    'fitting dry, thin air':
      'A sound {kind|term} is made to be free of corona in dry weather, though thin air (relative density {airDensity|2}) lowers the margin.',
    'string wet': 'In {weather|term} wet and drying patches of a sound insulator glow; look again in dry weather.',
    'fitting wet': 'In {weather|term} drops on a sound {kind|term} may glow; look again in dry weather.',
    'wire field unknown, dry':
      'The field at this {kind|term} was not computed; in dry weather a sound wire is not expected to glow.',
    'wire field unknown, wet':
      'The field at this {kind|term} was not computed; in {weather|term} drops on a sound wire may glow.',
    'wire expected':
      'Surface gradient {gradient|1} kV/cm rms; inception {low|1} to {high|1} kV/cm rms ({surface|term}, surface factor {least} to {greatest}, relative air density {airDensity|2}): a sound wire glows along its length.',
    'wire borderline':
      'Surface gradient {gradient|1} kV/cm rms; inception {low|1} to {high|1} kV/cm rms ({surface|term}, surface factor {least} to {greatest}, relative air density {airDensity|2}): whether a sound wire glows depends on its surface.',
    'wire unexpected':
      'Surface gradient {gradient|1} kV/cm rms; inception {low|1} to {high|1} kV/cm rms ({surface|term}, surface factor {least} to {greatest}, relative air density {airDensity|2}): a sound wire does not glow.',
    'corona loss':
      'For orientation, no measurement: by Peek’s law a wire of this kind and surface loses up to {greatestKwPerKm|2} kW/km and phase in this weather, true within a factor of three at best.',
    'corona loss none': 'By Peek’s law a sound wire loses no power to corona in this weather.',
    strength: '{rate|e1} photons/s (95 %: {lower|e1} to {upper|e1}) in {fromNm} to {toNm} nm.',
    'passes one': 'Seen by 1 pass.',
    'passes many': 'Seen by {passes} passes.',
    change: 'Change since the last campaign: {change|term}.',
    'rule fired': 'Rule “{rule|term}”.',
    'mains locked':
      'The exposure of {exposureMs|1} ms is {halves|2} half-cycles of the mains and the frames are locked to the mains: a steady discharge may seem brighter, fainter or pulsing by {sigma|%} %.',
    'mains beating':
      'The exposure of {exposureMs|1} ms is {halves|2} half-cycles of the mains and the frames beat with the mains every {beatS|1} s: a steady discharge may seem brighter, fainter or pulsing by {sigma|%} %.',
    'charge counted': 'Events overlap: photons are taken from the charge, not counted.',
    'few frames': 'Only {frames} frames in view.',
    flicker: 'The light flickers: counts vary {times|1} times as much as steady light would.',
  },
  terms: {},
  fixed: (value, decimals) => value.toFixed(decimals),
  scientific: (value, decimals) => value.toExponential(decimals).replace('e+', 'e'),
};

export const reasonInEnglish = (reason: Reason): string => reasonText(reason, REASONS_IN_ENGLISH);
export const reasonsInEnglish = (reasons: readonly Reason[]): string => reasons.map(reasonInEnglish).join(' ');
