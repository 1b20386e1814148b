import type { TableDefinition } from './geopackageTables.ts';

/** What the comparison with an earlier campaign came to. One row in `comparisons`, one in `changes` for each finding of either. */
export const COMPARISONS_TABLE: TableDefinition = {
  name: 'comparisons',
  title: 'Comparisons',
  description: 'The earlier campaign that the changes are told against; at most one row',
  geometry: null,
  columns: {
    earlier_campaign: 'TEXT NOT NULL',
    earlier_from_utc: 'TEXT NOT NULL',
    earlier_to_utc: 'TEXT NOT NULL',
    earlier_result_sha256: 'TEXT NOT NULL',
    result_sha256: 'TEXT NOT NULL',
    software: 'TEXT NOT NULL',
    parameters: 'TEXT NOT NULL',
    about: 'TEXT NOT NULL',
  },
};

export const CHANGES_TABLE: TableDefinition = {
  name: 'changes',
  title: 'Changes',
  description: 'What became of each finding between the earlier campaign and this one, and why it is told so',
  geometry: 'POINT',
  columns: {
    finding: 'TEXT',
    earlier_finding: 'TEXT',
    component: 'TEXT',
    change: 'TEXT NOT NULL',
    because: 'TEXT NOT NULL',
    rate_ratio: 'DOUBLE',
    ratio_lower95: 'DOUBLE',
    ratio_upper95: 'DOUBLE',
    probability: 'DOUBLE',
    adjusted_probability: 'DOUBLE',
    about: 'TEXT NOT NULL',
    earlier_picture: 'BLOB',
  },
};
