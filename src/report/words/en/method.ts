/** Method in plain words, in English. */
export const method = {
  method: 'Method in plain words',
  methodParagraphs: {
    pair: 'Two cameras fly side by side. One sees only ultraviolet light of wavelengths that the ozone layer keeps from the ground, so that even by day almost nothing but electrical discharges shows in it. The other takes ordinary colour pictures, which show the hardware.',
    range:
      'As the cameras sit apart, the shift between their images depends on the distance. It was measured on a bench at several distances, and every overlay in this report was made for the distance of its own discharge.',
    events:
      'The ultraviolet image is counted, not painted: each single photon event is found and kept with its time and place. Events of the camera itself, such as hot pixels, afterglow and cosmic rays, are told apart and counted.',
    rays: 'With the position and attitude of the aircraft, each event is a ray in space. A discharge is a point where more rays cross than the background explains; this finds sources too weak to show in any single picture. The threshold follows from a rate of false alarms that was set beforehand.',
    place:
      'The point is placed by least squares over all rays of all passes. Its accuracy has a part that averages out and a part common to all rays (satellite positioning, alignment, time); both are in the figures given. The probabilities of the candidate components follow from the point, its accuracy and that of the line model.',
    rate: 'The photon rate is what the source sends out per second in the stated band, worked back through camera, distance and air. Its interval holds counting, flicker and the systematic errors.',
    grade:
      'The grade follows a table of rules. It takes in the kind of component, the rate, whether sound hardware would glow in this weather, and whether the discharge showed in each pass. Each finding names the rule that was applied.',
  },
};
