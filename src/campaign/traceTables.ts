import type { TableDefinition } from './geopackageTables.ts';

/** From a finding down to the photon events: which rays it rests on, and with which settings they were evaluated. */
export const RAYS_TABLE: TableDefinition = {
  name: 'rays',
  title: 'Rays',
  description: 'Photon events that sightings rest on: row of the event table, frame, and probability of belonging',
  geometry: null,
  columns: {
    sighting: 'TEXT NOT NULL',
    flight: 'TEXT NOT NULL REFERENCES flight_tracks(flight)',
    event: 'INTEGER NOT NULL',
    frame: 'INTEGER NOT NULL',
    t_ns: 'INTEGER NOT NULL',
    x_px: 'DOUBLE NOT NULL',
    y_px: 'DOUBLE NOT NULL',
    membership: 'DOUBLE NOT NULL',
  },
};

export const SETTINGS_TABLE: TableDefinition = {
  name: 'inspection_settings',
  title: 'Settings of inspections',
  description: 'Parameters, rules, registration and mounting that each flight was inspected with, in full',
  geometry: null,
  columns: {
    flight: 'TEXT NOT NULL UNIQUE REFERENCES flight_tracks(flight)',
    events_file: 'TEXT NOT NULL',
    events_sha256: 'TEXT NOT NULL',
    parameters: 'TEXT NOT NULL',
    rules: 'TEXT NOT NULL',
    registration: 'TEXT NOT NULL',
    mounting: 'TEXT NOT NULL',
  },
};
