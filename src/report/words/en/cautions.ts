/** Cautions, in English. */
export const cautions = {
  cautions: 'Cautions',
  cautionItems: {
    advice:
      'This report is advice. It is no order to switch, to climb, to touch or to work, and it replaces no inspection that rules or law require.',
    owner: 'The line owner’s rules and the law, codes and standards of the place come before anything written here.',
    qualified: 'Only licensed and qualified people decide on and carry out work on or near the line.',
    live: 'Take every part of the line as live until the responsible person has declared it safe by the owner’s procedure.',
    distance:
      'Keep the approach distances that apply to you, your tools and your aircraft. No distance in this report is an approach distance.',
    position:
      'Positions hold with the accuracy stated and on the datum stated. Conductors move by metres with load, temperature and wind: go by the component, not by the coordinates alone.',
    silence:
      'A component without a finding is clear only down to the limit stated for it, in the weather of the flight. Corona comes and goes with voltage, humidity and rain; many faults do not glow at all.',
    strength:
      'The photon rate does not tell how near to failure a component is. A weak glow may be serious and a strong one harmless.',
    confirm: 'Confirm a finding by an independent means before costly work is done on it.',
  },
};
