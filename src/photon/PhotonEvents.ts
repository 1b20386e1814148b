/**
 * Photon events of a stretch of a flight, column by column, in order of frame; all columns have `count` valid rows.
 * The Parquet table of a flight has the same columns.
 */
export interface PhotonEvents {
  readonly count: number;
  /** Frame number in the uv index. */
  readonly frame: Int32Array;
  /** Middle of the exposure. */
  readonly tNs: Float64Array;
  readonly xPx: Float64Array;
  readonly yPx: Float64Array;
  /** Summed signal above the dark level, DN at the gain of its frame. */
  readonly charge: Float32Array;
  /** Standard deviation of the position of the spot's centre, per axis, px. */
  readonly sigmaPx: Float32Array;
  /** Union of EVENT_FLAGS. */
  readonly flags: Uint8Array;
}

export const EVENT_FLAGS = {
  /** At least one pixel at the sensor's limit. */
  saturated: 1,
  /** Afterglow of an event of the frame before: not a photon of its own. */
  afterglow: 2,
  /** On a pixel that fires too often to believe. */
  hotPixel: 4,
  /** Far too much charge or too long a trace for one photon: cosmic ray or ion. */
  tooBright: 8,
  /** Cut off by the image border. */
  atBorder: 16,
  /** Split from an overlapping neighbour. */
  split: 32,
  /** An extended saturated region: `charge` counts many photons. */
  extended: 64,
} as const;

/** Flags that make an event useless for finding or counting discharges. */
export const NOT_A_PHOTON = EVENT_FLAGS.afterglow | EVENT_FLAGS.hotPixel | EVENT_FLAGS.tooBright;
