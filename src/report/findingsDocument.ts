import { z } from 'zod';
import { PRIORITIES } from '../grade/Grade.ts';
import { COMPONENT_KINDS } from '../line/LineModel.ts';
import { findingColumns } from './findingColumns.ts';
import type { ReportContents } from './ReportContents.ts';

const text = z.string();
const maybeText = z.string().nullable();
const share = z.number().min(0).max(1);
const metres = z.number();

/** `findings.json`: the findings of a campaign for machines. Fields are those of the table; units end their names. */
export const findingsDocument = z.strictObject({
  format: z.literal('corposant-findings'),
  version: z.literal(1),
  campaign: text,
  line: text,
  findings: z.array(
    z.strictObject({
      number: text,
      finding_id: text,
      priority: z.enum(PRIORITIES),
      decision: z.enum(['open', 'confirmed', 'rejected']),
      component_id: maybeText,
      component_kind: z.enum(COMPONENT_KINDS).nullable(),
      structures: maybeText,
      circuit: maybeText,
      phase: maybeText,
      component_probability: share,
      lat_deg: z.number().min(-90).max(90),
      lon_deg: z.number().min(-180).max(180),
      height_ellipsoidal_m: metres,
      datum: text,
      projected_easting_m: metres,
      projected_northing_m: metres,
      projected_system: text,
      horizontal_accuracy95_m: metres.min(0),
      vertical_accuracy95_m: metres.min(0),
      ellipsoid95_long_m: metres.min(0),
      ellipsoid95_long_azimuth_deg: z.number().min(0).max(360),
      ellipsoid95_long_elevation_deg: z.number().min(0).max(90),
      ellipsoid95_middle_m: metres.min(0),
      ellipsoid95_short_m: metres.min(0),
      held_by_line: z.boolean(),
      rays: z.int().min(0),
      passes: z.int().min(0),
      nearest_range_m: metres.min(0),
      photon_rate_per_s: z.number().min(0),
      photon_rate_low95_per_s: z.number().min(0),
      photon_rate_high95_per_s: z.number().min(0),
      band_from_nm: z.number().positive(),
      band_to_nm: z.number().positive(),
      expectedness: z.enum(['unexpected', 'borderline', 'expected']),
      rule: text,
      reasoning: text,
      advice: text,
      comment: text,
      flights: text,
      change: z.enum(['new', 'grown', 'unchanged', 'faded', 'gone', 'not comparable']).nullable(),
      earlier_finding_id: maybeText,
      rate_ratio: z.number().min(0).nullable(),
      rate_ratio_low95: z.number().min(0).nullable(),
      rate_ratio_high95: z.number().min(0).nullable(),
      change_because: maybeText,
      first_seen_utc: maybeText,
      last_seen_utc: maybeText,
      software: maybeText,
    }),
  ),
});

export function findingsJson(contents: ReportContents): string {
  const document = findingsDocument.parse({
    format: 'corposant-findings',
    version: 1,
    campaign: contents.name,
    line: contents.line.name,
    findings: [...contents.findings, ...contents.rejected].map((each) => findingColumns(contents, each)),
  });
  return `${JSON.stringify(document, null, 1)}\n`;
}
