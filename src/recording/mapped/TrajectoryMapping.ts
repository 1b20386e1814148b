import { z } from 'zod';
import { name, positive } from '../fields.ts';

/** The name of a column in the header, or its number from 1 as "#4". */
const column = z.string().min(1).max(200);
const degree = z.enum(['deg', 'rad']);
const metre = z.enum(['m', 'ft', 'us-ft']);
const scale = z.enum(['UTC', 'GPS', 'TAI']);
const day = z.string().regex(/^\d{4}-\d{2}-\d{2}$/, 'a day such as 2026-05-12');
const system = z.string().regex(/^EPSG:\d{4,5}$/, 'a projected system such as EPSG:25833');

const leap = {
  scale,
  /** GPS - UTC that the exporting program took; where it differs from the table of leap seconds, its UTC is mended and that is said. */
  gpsMinusUtcS: z.int().min(0).max(60).optional(),
};

const time = z.discriminatedUnion('form', [
  z.strictObject({
    form: z.literal('number'),
    column,
    unit: z.enum(['s', 'ms', 'us', 'ns']),
    /** "epoch": of the flight; or the instant of 0, as a clock of that scale reads it. */
    since: z.union([z.literal('epoch'), z.string().regex(/^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?Z?$/)]),
    ...leap,
  }),
  z.strictObject({
    form: z.literal('gps week'),
    week: z.union([column, z.int().min(0).max(9999)]),
    seconds: column,
    unit: z.enum(['s', 'ms']).default('s'),
  }),
  z.strictObject({ form: z.literal('seconds of day'), column, day, ...leap }),
  z.strictObject({
    form: z.literal('date and time'),
    date: column,
    time: column,
    order: z.enum(['year month day', 'day month year', 'month day year']),
    ...leap,
  }),
  z.strictObject({ form: z.literal('ISO 8601'), column, ...leap }),
]);

const height = z.strictObject({
  column,
  unit: metre,
  /** Above the WGS 84 ellipsoid, above the EGM96 geoid, or above the sea with the separation in a column of the file. */
  above: z.enum(['ellipsoid', 'EGM96', 'separation column']),
  separation: column.optional(),
});

const datum = z.enum(['WGS 84', 'ETRS89']);
const position = z.discriminatedUnion('form', [
  z.strictObject({
    form: z.literal('geographic'),
    latitude: column,
    longitude: column,
    /** "dms": text of degrees, minutes, seconds; "ddmm": degrees and minutes run together, as in NMEA. A letter N, S, E, W may follow. */
    unit: z.enum(['deg', 'rad', 'dms', 'ddmm']),
    datum,
    height,
  }),
  z.strictObject({
    form: z.literal('projected'),
    easting: column,
    northing: column,
    unit: metre,
    system,
    height,
  }),
  z.strictObject({ form: z.literal('geocentric'), x: column, y: column, z: column, datum }),
]);

const attitude = z.discriminatedUnion('form', [
  z.strictObject({
    form: z.literal('angles'),
    roll: column,
    pitch: column,
    heading: column,
    unit: degree,
    rollPositive: z.enum(['right wing down', 'left wing down']),
    pitchPositive: z.enum(['nose up', 'nose down']),
    headingTurns: z.enum(['clockwise from north', 'anticlockwise from east']),
    /** Which north: true, that of a projected system's grid, or magnetic with the declination (east positive). */
    north: z.union([
      z.literal('true'),
      z.strictObject({ grid: system }),
      z.strictObject({ magneticDeclinationDeg: z.number().min(-180).max(180) }),
    ]),
  }),
  z.strictObject({
    form: z.literal('quaternion'),
    w: column,
    x: column,
    y: column,
    z: column,
    turns: z.enum(['north-east-down from forward-right-down', 'east-north-up from forward-left-up']),
  }),
]);

const velocity = z.strictObject({
  north: column,
  east: column,
  vertical: column,
  verticalPositive: z.enum(['up', 'down']),
  unit: z.enum(['m/s', 'km/h', 'kn', 'ft/s']),
});

const statedSigma = z.strictObject({
  northM: positive,
  eastM: positive,
  downM: positive,
  rollDeg: positive,
  pitchDeg: positive,
  headingDeg: positive,
});

const sigma = z.discriminatedUnion('form', [
  z.strictObject({
    form: z.literal('columns'),
    north: column,
    east: column,
    vertical: column,
    lengthUnit: metre,
    roll: column,
    pitch: column,
    heading: column,
    angleUnit: z.enum(['deg', 'rad', 'arcmin']),
  }),
  /** One set for all rows: what the instruments' makers or a processing report state. */
  z.strictObject({ form: z.literal('stated'), ...statedSigma.shape }),
]);

/** What the receiver says of each solution, by the text in the column. Rows of a kind that is not listed are an error. */
const fix = z.strictObject({
  column,
  kinds: z.record(
    z.string(),
    z.strictObject({
      name,
      /** Taken for the rows of this kind where the file has no standard deviations of its own. */
      levelSigmaM: positive.optional(),
      uprightSigmaM: positive.optional(),
      leaveOut: z.boolean().optional(),
    }),
  ),
});

const layout = {
  separator: z.enum(['comma', 'semicolon', 'tab', 'blanks', 'bar']),
  decimalMark: z.enum(['.', ',']).default('.'),
  /** Lines that begin so are left out. */
  comments: z.array(z.string().min(1).max(10)).default([]),
  /** The line, counted from 1, that names the columns (a comment mark before the names is taken off). */
  headerLine: z.int().min(1).optional(),
  /** Names of the columns where no line of the file has them. */
  columns: z.array(name).min(1).optional(),
  /** The first line with values; default: behind the header. */
  firstLine: z.int().min(1).optional(),
};

const tableOfAttitude = z.strictObject({ ...layout, time, attitude });

/** Where attitude comes from if not from the positions' own file. */
const attitudeElsewhere = z.discriminatedUnion('from', [
  z.strictObject({
    from: z.literal('file'),
    file: name,
    table: tableOfAttitude,
    sigma: statedSigma.pick({ rollDeg: true, pitchDeg: true, headingDeg: true }),
  }),
  /** Level flight with the nose along the course: for maps and coverage, never for places. */
  z.strictObject({ from: z.literal('course'), rollPitchSigmaDeg: positive, headingSigmaDeg: positive }),
]);

const head = { format: z.literal('corposant-trajectory-mapping'), version: z.literal(1) };

export const trajectoryMapping = z.discriminatedUnion('source', [
  z.strictObject({
    ...head,
    source: z.literal('table'),
    ...layout,
    time,
    position,
    attitude: z.union([attitude, attitudeElsewhere]),
    velocity: velocity.optional(),
    sigma: sigma.optional(),
    fix: fix.optional(),
  }),
  z.strictObject({
    ...head,
    source: z.literal('NMEA 0183'),
    /** The day of the first sentence (UTC), where no RMC or ZDA tells it. */
    day: day.optional(),
    /** Whether the separation in GGA is the receiver's and taken, or EGM96 is put in its place. */
    separation: z.enum(['as given', 'EGM96']),
    /** Standard deviations by the quality of GGA, where no GST gives them. */
    fix: z
      .record(
        z.string().regex(/^[1-9]$/),
        z.strictObject({ levelSigmaM: positive, uprightSigmaM: positive, leaveOut: z.boolean().optional() }),
      )
      .optional(),
    attitude: attitudeElsewhere,
  }),
  z.strictObject({
    ...head,
    source: z.literal('MCAP'),
    position: z.discriminatedUnion('form', [
      /** foxglove.LocationFix or sensor_msgs NavSatFix. */
      z.strictObject({
        form: z.literal('location'),
        topic: name,
        height: z.enum(['ellipsoid', 'EGM96']),
        sigmaM: positive.optional(),
      }),
      /** foxglove.PoseInFrame, geometry_msgs PoseStamped or nav_msgs Odometry in east-north-up metres about a place. */
      z.strictObject({
        form: z.literal('local east-north-up'),
        topic: name,
        originLatDeg: z.number().min(-90).max(90),
        originLonDeg: z.number().min(-180).max(180),
        originHeightM: z.number(),
        sigmaM: positive,
      }),
    ]),
    /** PoseInFrame, PoseStamped, Odometry or sensor_msgs Imu. */
    attitude: z.union([
      z.strictObject({
        topic: name,
        turns: z.enum(['north-east-down from forward-right-down', 'east-north-up from forward-left-up']),
        sigma: statedSigma.pick({ rollDeg: true, pitchDeg: true, headingDeg: true }),
      }),
      attitudeElsewhere,
    ]),
    /** The stamp in the message, or the time at which it was logged. */
    stamp: z.enum(['message', 'log']),
    ...leap,
  }),
]);
export type TrajectoryMapping = z.infer<typeof trajectoryMapping>;
export type TableMapping = Extract<TrajectoryMapping, { source: 'table' }>;
export type NmeaMapping = Extract<TrajectoryMapping, { source: 'NMEA 0183' }>;
export type McapMapping = Extract<TrajectoryMapping, { source: 'MCAP' }>;
export type TableLayout = Pick<
  TableMapping,
  'separator' | 'decimalMark' | 'comments' | 'headerLine' | 'columns' | 'firstLine'
>;
export type TimeMapping = z.infer<typeof time>;
export type PositionMapping = z.infer<typeof position>;
export type AttitudeMapping = z.infer<typeof attitude>;
export type AttitudeElsewhere = z.infer<typeof attitudeElsewhere>;
export type AttitudeFileMapping = z.infer<typeof tableOfAttitude>;
