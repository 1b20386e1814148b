/** Coverage, in English. */
export const coverage = {
  coverage: 'Coverage',
  coverageLead:
    'For each component of the line model: whether it carries a finding, is clear, or was not seen. “Clear” means that a steady discharge at the stated rate would have been found with a probability of 95\u00a0%; a weaker one may be there. “Not seen” means that nothing can be said. A finding that was rejected in review still counts as a finding here.',
  flyAgain: 'To fly again',
  flyAgainLead:
    'Of these nothing can be said, for the reason beside them. Hidden things show from another side or another height; keep to the approach distances and the rules of those who answer for the line and for the flight.',
  colWhat: 'Components',
  colWhy: 'Why',
  whyNotSeen: 'not in view in enough frames',
  whyPart: 'seen in part',
  whyHidden: 'hidden by {id}',
  coverageByKind: 'By kind of component',
  coverageAll: 'Component by component',
  coverageSome: 'Not clear: component by component',
  coverageShortened:
    'The line has {all} components. Those that are clear are left out of this table; the file coverage.csv beside this report lists every one with its limit.',
  colKind: 'Kind',
  colId: 'Name',
  colCircuitPhase: 'Circuit, phase',
  colAll: 'All',
  colState: 'State',
  colFrames: 'Frames in view',
  colNearest: 'Nearest range',
  colLimit: 'Found from',
  colMedianLimit: 'Median limit of the clear ones',
  states: { finding: 'finding', clear: 'clear', 'not seen': 'not seen' },
};
