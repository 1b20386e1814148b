import { EGM96_HEIGHT_NAME, egm96UndulationM } from '../earth/geoid.ts';
import { findingColumns } from './findingColumns.ts';
import type { ReportContents } from './ReportContents.ts';
import { element, leaf } from './xml.ts';

/**
 * The findings that stand, as KML 2.2 (OGC 07-147r2) placemarks. KML's absolute altitudes count from the EGM96 geoid, so the
 * ellipsoidal heights are brought down to it; each placemark also carries the height as measured.
 */
export function findingsKml(contents: ReportContents): string {
  const placemarks = contents.findings.map((each) => {
    const [lonDeg, latDeg, heightM] = each.discharge.positionLlh;
    const altitudeM = heightM - egm96UndulationM(lonDeg, latDeg);
    const columns = findingColumns(contents, each);
    return element(
      'Placemark',
      {},
      leaf('name', `F${each.number} ${each.finding.grade.priority}`),
      element(
        'ExtendedData',
        {},
        ...Object.entries({ ...columns, altitude_reference: EGM96_HEIGHT_NAME }).map(([name, value]) =>
          element('Data', { name }, leaf('value', value === null ? '' : String(value))),
        ),
      ),
      element(
        'Point',
        {},
        leaf('altitudeMode', 'absolute'),
        leaf('coordinates', `${lonDeg.toFixed(7)},${latDeg.toFixed(7)},${altitudeM.toFixed(2)}`),
      ),
    );
  });
  const document = element('Document', {}, leaf('name', `${contents.line.name}, ${contents.name}`), ...placemarks);
  return `<?xml version="1.0" encoding="UTF-8"?>\n${element('kml', { xmlns: 'http://www.opengis.net/kml/2.2' }, document)}\n`;
}
