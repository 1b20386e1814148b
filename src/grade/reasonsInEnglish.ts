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
    grown:
      '{ratio|2} times as strong as in the earlier campaign (95 %: {lower|2} to {upper|2}); a discharge that did not change would seem to have changed as much with a probability of {probability|e0}.',
    faded:
      '{ratio|2} times as strong as in the earlier campaign (95 %: {lower|2} to {upper|2}); a discharge that did not change would seem to have changed as much with a probability of {probability|e0}.',
    unchanged:
      '{ratio|2} times as strong as in the earlier campaign (95 %: {lower|2} to {upper|2}), no more than counting, range, air and the usual change from day to day explain.',
    new: 'Not found in the earlier campaign, which would have found {limit|e1} photons/s here with 95 %; it would have missed this discharge with a probability of {probability|e0}.',
    gone: 'Not found in this campaign, which would have found {limit|e1} photons/s here with 95 %; it would have missed the earlier discharge with a probability of {probability|e0}.',
    'not seen now': 'This campaign did not see the component: not seen is not gone.',
    'not seen then': 'The earlier campaign did not see the component: it may have been there.',
    'too weak for now':
      'Not found in this campaign, but it would have found only {limit|e1} photons/s here with 95 %: a discharge as weak as the earlier one may still be there (probability of missing it {probability|%} %).',
    'too weak for then':
      'Not found in the earlier campaign, but that would have found only {limit|e1} photons/s here with 95 %: a discharge this weak may have been there (probability of missing it {probability|%} %).',
    'coverage unknown now': 'It sits on nothing whose coverage this campaign states: not found is not gone.',
    'coverage unknown then': 'It sits on nothing whose coverage the earlier campaign states: it may have been there.',
    'kept out now':
      'This campaign saw something {distance|1} m from there that was kept out of the findings ({because|term}); look at that sighting.',
    'kept out then':
      'The earlier campaign saw something {distance|1} m from there that was kept out of its findings ({because|term}); look at that sighting.',
    'other weather':
      'The earlier campaign was flown in other weather ({weatherThen|term}; now {weatherNow|term}), which changes what glows.',
    'other band': 'The two campaigns measured in different bands ({bandThen} nm, now {bandNow} nm).',
    'too uncertain':
      'The ratio of the rates is {ratio|2}, but anything from {lower|2} to {upper|2} is possible (95 %): too uncertain to be told.',
    'rejected in review': 'A reviewer rejected one of the two findings.',
  },
  terms: {},
  fixed: (value, decimals) => value.toFixed(decimals),
  scientific: (value, decimals) => value.toExponential(decimals).replace('e+', 'e'),
};

export const reasonInEnglish = (reason: Reason): string => reasonText(reason, REASONS_IN_ENGLISH);
export const reasonsInEnglish = (reasons: readonly Reason[]): string => reasons.map(reasonInEnglish).join(' ');
