import type { FindingPage, LabelledText } from '../ReportModel.ts';

/** A finding as the page sorts and filters it. */
export interface EvidenceEntry {
  readonly id: string;
  readonly number: string;
  readonly rank: number;
  /** null where no earlier campaign was compared with. */
  readonly change: string | null;
  readonly rateHz: number;
  /** Along the line: the order of its structures. */
  readonly place: number;
}

/** One language's texts of the page. */
export interface EvidenceLanguage {
  readonly code: string;
  readonly name: string;
  readonly title: string;
  readonly lead: readonly string[];
  readonly facts: readonly LabelledText[];
  readonly priorities: readonly string[];
  readonly changeNames: Readonly<Record<string, string>>;
  /** Words of the page itself, by key. */
  readonly words: Readonly<Record<string, string>>;
  readonly cautions: readonly string[];
  /** Plan of the line, SVG text; findings in it carry `data-finding`. */
  readonly mapSvg: string;
  readonly rates: readonly string[];
  readonly pages: readonly FindingPage[];
  readonly changes: {
    readonly lead: string;
    readonly head: readonly string[];
    readonly rows: readonly (readonly string[])[];
  } | null;
}

export interface EvidenceContents {
  readonly entries: readonly EvidenceEntry[];
  readonly languages: readonly EvidenceLanguage[];
}
