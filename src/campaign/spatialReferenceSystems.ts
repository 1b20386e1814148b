/** Rows of gpkg_spatial_ref_sys: the three that every GeoPackage has, and WGS 84 with ellipsoidal height. */
export interface SpatialReferenceSystem {
  readonly name: string;
  readonly id: number;
  readonly organization: string;
  /** WKT 1 (OGC 01-009). It has no word for a geographic system with height, which is then "undefined". */
  readonly definition: string;
  /** WKT 2 (OGC 12-063), of the extension gpkg_crs_wkt. */
  readonly definition12063: string;
  readonly description: string;
}

const WGS84_DATUM_WKT2 =
  'DATUM["World Geodetic System 1984",ELLIPSOID["WGS 84",6378137,298.257223563,LENGTHUNIT["metre",1]]],' +
  'PRIMEM["Greenwich",0,ANGLEUNIT["degree",0.0174532925199433]]';
const WGS84_AXES_WKT2 =
  'AXIS["geodetic latitude (Lat)",north,ORDER[1],ANGLEUNIT["degree",0.0174532925199433]],' +
  'AXIS["geodetic longitude (Lon)",east,ORDER[2],ANGLEUNIT["degree",0.0174532925199433]]';

export const SPATIAL_REFERENCE_SYSTEMS: readonly SpatialReferenceSystem[] = [
  {
    name: 'Undefined Cartesian SRS',
    id: -1,
    organization: 'NONE',
    definition: 'undefined',
    definition12063: 'undefined',
    description: 'undefined Cartesian coordinate reference system',
  },
  {
    name: 'Undefined geographic SRS',
    id: 0,
    organization: 'NONE',
    definition: 'undefined',
    definition12063: 'undefined',
    description: 'undefined geographic coordinate reference system',
  },
  {
    name: 'WGS 84 geodetic',
    id: 4326,
    organization: 'EPSG',
    definition:
      'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],' +
      'AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],' +
      'UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AXIS["Latitude",NORTH],AXIS["Longitude",EAST],' +
      'AUTHORITY["EPSG","4326"]]',
    definition12063: `GEODCRS["WGS 84",${WGS84_DATUM_WKT2},CS[ellipsoidal,2],${WGS84_AXES_WKT2},ID["EPSG",4326]]`,
    description: 'longitude and latitude in degrees on WGS 84',
  },
  {
    name: 'WGS 84 geodetic with ellipsoidal height',
    id: 4979,
    organization: 'EPSG',
    definition: 'undefined',
    definition12063:
      `GEODCRS["WGS 84",${WGS84_DATUM_WKT2},CS[ellipsoidal,3],${WGS84_AXES_WKT2},` +
      'AXIS["ellipsoidal height (h)",up,ORDER[3],LENGTHUNIT["metre",1]],ID["EPSG",4979]]',
    description: 'longitude and latitude in degrees, height in metres above the ellipsoid, on WGS 84',
  },
];
