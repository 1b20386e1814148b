import type { ReportModel } from './ReportModel.ts';

/** The typesetter holds some 4 MB a finding page while it works: 500 at once took 2.5 GB, 120 at a time 1.0 GB. */
export const FINDINGS_A_VOLUME = 80;

/**
 * The report as one document, or as volumes where the pages of its findings are many: the first holds everything and
 * the most urgent findings, the others the pages of the rest in the same order.
 */
export function volumesOf(model: ReportModel): ReportModel[] {
  const count = Math.max(1, Math.ceil(model.findings.length / FINDINGS_A_VOLUME));
  return Array.from({ length: count }, (_, k) => ({
    ...model,
    volume: { number: k + 1, of: count },
    findings: model.findings.slice(k * FINDINGS_A_VOLUME, (k + 1) * FINDINGS_A_VOLUME),
  }));
}
