import { findingColumns } from './findingColumns.ts';
import type { ReportContents } from './ReportContents.ts';

/**
 * All findings, rejected ones too (their `decision` says so), as a GeoJSON feature collection after RFC 7946:
 * WGS 84, longitude first, ellipsoidal height third, no `crs` member.
 */
export function findingsGeoJson(contents: ReportContents): string {
  const features = [...contents.findings, ...contents.rejected].map((each) => {
    const { lon_deg, lat_deg, height_ellipsoidal_m, ...properties } = findingColumns(contents, each);
    return {
      type: 'Feature',
      id: each.finding.id,
      geometry: { type: 'Point', coordinates: [lon_deg, lat_deg, height_ellipsoidal_m] },
      properties,
    };
  });
  return `${JSON.stringify({ type: 'FeatureCollection', features }, null, 1)}\n`;
}
