/** The page that is handed over, in English. */
export const handOver = {
  evidenceMore: 'More about this campaign',
  evidenceSearch: 'Search component, structure, number',
  evidenceAll: 'all',
  evidenceOpen: 'Open finding',
  evidenceShown: '{n} of {all} findings',
  evidencePrevious: 'Previous',
  evidenceNext: 'Next',
  evidenceLines: 'Ultraviolet lines over the picture',
  evidenceLanguage: 'Language',
  noScript:
    'This page needs scripts, which are part of it and load nothing from elsewhere. The tables beside it hold the same findings.',
};
