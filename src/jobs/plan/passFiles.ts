import { EGM96_HEIGHT_NAME, egm96UndulationM } from '../../earth/geoid.ts';
import type { Llh } from '../../earth/Llh.ts';
import type { LocalFrame } from '../../earth/LocalFrame.ts';
import type { LineModel } from '../../line/LineModel.ts';
import type { ProposedPass } from '../../place/plan/proposePasses.ts';
import { element, leaf } from '../../report/xml.ts';

export interface AboutPasses {
  readonly line: LineModel;
  readonly frame: LocalFrame;
  readonly standoffM: number;
  readonly speedMps: number;
}

const CAUTION =
  'Proposed from the line model alone: no terrain, trees, crossings or other lines. Local law, the rules of the owner and the competent person decide.';

/**
 * The passes as GeoJSON (RFC 7946): a LineString each and a Point for each waypoint, longitude first, height above the
 * ellipsoid third; the height above the EGM96 geoid stands among the properties of the waypoints.
 */
export function passesGeoJson(passes: readonly ProposedPass[], about: AboutPasses): string {
  const features = passes.flatMap((pass) => {
    const places = pass.waypoints.map((w) => about.frame.llhFromEnu(w.positionEnuM));
    return [
      {
        type: 'Feature',
        geometry: { type: 'LineString', coordinates: places.map(coordinates) },
        properties: {
          kind: 'pass',
          pass: pass.name,
          standoff_m: about.standoffM,
          speed_mps: about.speedMps,
          length_m: round(pass.lengthM, 1),
          time_s: round(pass.lengthM / about.speedMps, 1),
          clearance_m: round(pass.clearanceM, 2),
          nearest: pass.nearestId,
          caution: CAUTION,
        },
      },
      ...pass.waypoints.map((w, i) => ({
        type: 'Feature',
        geometry: { type: 'Point', coordinates: coordinates(places[i]) },
        properties: {
          kind: 'waypoint',
          pass: pass.name,
          number: i + 1,
          abeam_of: w.structureId,
          heading_deg: round(w.headingDeg, 1),
          height_ellipsoidal_m: round(places[i][2], 2),
          height_egm96_m: round(overEgm96(places[i]), 2),
        },
      })),
    ];
  });
  return `${JSON.stringify({ type: 'FeatureCollection', features }, null, 1)}\n`;
}

/** The passes as KML 2.2 (OGC 07-147r2), whose absolute altitudes count from the EGM96 geoid. */
export function passesKml(passes: readonly ProposedPass[], about: AboutPasses): string {
  const placemarks = passes.map((pass) => {
    const data = {
      standoff_m: about.standoffM,
      speed_mps: about.speedMps,
      length_m: round(pass.lengthM, 1),
      time_s: round(pass.lengthM / about.speedMps, 1),
      clearance_m: round(pass.clearanceM, 2),
      altitude_reference: EGM96_HEIGHT_NAME,
      caution: CAUTION,
    };
    return element(
      'Placemark',
      {},
      leaf('name', pass.name),
      element(
        'ExtendedData',
        {},
        ...Object.entries(data).map(([name, value]) => element('Data', { name }, leaf('value', String(value)))),
      ),
      element(
        'LineString',
        {},
        leaf('altitudeMode', 'absolute'),
        leaf(
          'coordinates',
          pass.waypoints
            .map((w) => about.frame.llhFromEnu(w.positionEnuM))
            .map((llh) => `${llh[0].toFixed(7)},${llh[1].toFixed(7)},${overEgm96(llh).toFixed(2)}`)
            .join(' '),
        ),
      ),
    );
  });
  const document = element('Document', {}, leaf('name', `Passes along ${about.line.name}`), ...placemarks);
  return `<?xml version="1.0" encoding="UTF-8"?>\n${element('kml', { xmlns: 'http://www.opengis.net/kml/2.2' }, document)}\n`;
}

const coordinates = ([lon, lat, height]: Llh): number[] => [round(lon, 7), round(lat, 7), round(height, 2)];
const overEgm96 = ([lon, lat, height]: Llh): number => height - egm96UndulationM(lon, lat);
const round = (x: number, digits: number): number => Number(x.toFixed(digits));
