/** Contents, result in short, priorities and the table of findings, in English. */
export const summary = {
  contents: 'Contents',
  summary: 'Result in short',
  summaryLead: {
    one: '{n} discharge was placed on the line and graded. {urgent} of the findings ask for action now or soon.',
    other: '{n} discharges were placed on the line and graded. {urgent} of the findings ask for action now or soon.',
  },
  summaryClear:
    'Of {all} components, {finding} carry a finding, {clear} are clear down to a limit that is stated for each, and {notSeen} were not seen. “Not seen” is never to be read as “clear”.',
  summaryLimit:
    'For half of the clear components the weakest discharge that would have been found with 95\u00a0% probability is {median} or less; for the worst of them it is {worst}.',
  summaryEmpty: 'No discharge was found. What that is worth is told by the limits under “Coverage”.',
  summaryRejected: {
    one: '{n} finding was rejected in review; it is listed in the appendix and not counted here.',
    other: '{n} findings were rejected in review; they are listed in the appendix and not counted here.',
  },
  summarySuspects: {
    one: '{n} sighting was kept out of the findings for a stated reason; see the appendix.',
    other: '{n} sightings were kept out of the findings for stated reasons; see the appendix.',
  },
  byPriority: 'Findings by priority',
  priority: 'Priority',
  meaning: 'Meaning',
  count: 'Number',
  findingNumbers: 'Findings',
  tableOfFindings: 'Table of findings',
  colFinding: 'No.',
  colComponent: 'Component',
  colPlace: 'Structure or span',
  colRate: 'Photon rate at the source, 95\u00a0% interval',
  colAccuracy: 'Accuracy, 95\u00a0%',
  colProbability: 'Component right with',
  accuracyShort: '{h}\u00a0m horizontal, {v}\u00a0m vertical',
  priorities: {
    'act now': 'act now',
    'plan soon': 'plan soon',
    'next maintenance': 'next maintenance',
    watch: 'watch',
    'as expected in this weather': 'as expected in this weather',
    'not a finding': 'not a finding',
  },
  priorityMeanings: {
    'act now': 'Bring to the owner’s duty engineer without delay; failure or danger cannot be ruled out.',
    'plan soon': 'A check on site within weeks to months, by the owner’s own rules.',
    'next maintenance': 'To be looked at when the line is next worked on.',
    watch: 'No work now; look again at the next flight.',
    'as expected in this weather': 'Sound hardware would glow like this under these conditions.',
    'not a finding': 'Seen, placed, and judged to be no discharge on the line.',
  },
};
