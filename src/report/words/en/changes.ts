/** Changes since an earlier campaign, in English. */
export const changes = {
  changes: 'Changes since the earlier campaign',
  changesLead:
    'Each finding of this campaign and of the earlier one, “{campaign}” (flown {span}), was paired by place and component. Rates at the source are compared, after range, air, exposure, gain and efficiency have been worked out of them; what is left of their errors is in the interval. Changes are told so that of all that are told no more than {q} are expected to be false. What only one campaign found is new or gone only where the other could have found it: not seen is not gone.',
  changeKinds: {
    'first campaign': 'first campaign',
    new: 'new',
    grown: 'grown',
    unchanged: 'unchanged',
    faded: 'faded',
    gone: 'gone',
    'not comparable': 'not comparable',
  },
  changeMeanings: {
    'first campaign': 'No earlier campaign was given.',
    new: 'Found now; the earlier campaign would have found it.',
    grown: 'Stronger than chance and errors explain.',
    unchanged: 'The same, as far as can be told; the interval excludes a change by a factor of three.',
    faded: 'Weaker than chance and errors explain.',
    gone: 'Found then; this campaign would have found it.',
    'not comparable': 'Nothing can be told, for the reason given.',
  },
  changesNote: 'Result of the earlier campaign: {hash}; compared with {software}. {remarks}',
  colChange: 'Change',
  colThen: 'Rate then, photons/s',
  colNow: 'Rate now, photons/s',
  colRatio: 'Ratio, 95\u00a0%',
  colBecause: 'Why it is told so',
  history: 'History',
  colCampaign: 'Campaign',
  colSeen: 'Seen',
  colRange: 'Range',
  colWeather: 'Weather',
  earlierCaption: 'The earlier campaign: {utc}, flight {flight}, range {range}\u00a0m.',
  summaryChanges:
    'Against “{campaign}”: {new} new, {grown} grown, {unchanged} unchanged, {faded} faded, {gone} gone, {notComparable} not comparable.',
};
