/** Glossary, in English. */
export const glossary = {
  glossary: 'Glossary',
  glossaryItems: {
    corona: [
      'Corona',
      'A discharge in air at a surface where the electric field is too strong; seen as faint light, mostly ultraviolet.',
    ],
    solarBlind: [
      'Ultraviolet band',
      'Wavelengths, stated beside each rate, in which ozone high in the air blocks the sun, so that weak discharges show by day.',
    ],
    event: ['Photon event', 'One speckle in the ultraviolet image, made by one photon.'],
    rate: ['Photon rate', 'Photons that the source sends out per second into all directions, in the stated band.'],
    sighting: ['Sighting', 'One source followed through one pass of the aircraft.'],
    discharge: ['Discharge', 'One or more sightings placed at a point in space.'],
    finding: ['Finding', 'A discharge on a component, graded.'],
    interval: ['95\u00a0% interval', 'Made so that it holds the true value in 95 of 100 cases.'],
    ellipsoid: [
      '95\u00a0% ellipsoid',
      'Made so that it holds the true point in 95 of 100 cases; given by its three half-axes.',
    ],
    datum: [
      'Datum',
      'The reference that coordinates and heights are counted from. Heights above the ellipsoid differ from heights above the sea by up to about 100 m.',
    ],
    registration: ['Registration', 'The mapping from the ultraviolet image to the colour image, at a range.'],
    limit: ['Limit', 'The weakest steady discharge that would have been found with a probability of 95\u00a0%.'],
    overlay: [
      'Overlay accuracy',
      'How far the ultraviolet lines may lie beside their true place on the colour picture.',
    ],
  },
};
