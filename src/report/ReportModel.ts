/** Everything the page template prints, as finished text: it computes nothing but the layout. */
export interface ReportModel {
  readonly language: string;
  readonly region: string;
  readonly title: string;
  readonly author: string;
  /** Of the campaign's last flight, so that the same campaign gives the same bytes on any day. */
  readonly date: { readonly year: number; readonly month: number; readonly day: number };
  readonly volume: { readonly number: number; readonly of: number };
  /** Fixed words of headings and table heads. */
  readonly words: Readonly<Record<string, string>>;
  readonly cover: {
    readonly kind: string;
    readonly line: string;
    readonly rows: readonly LabelledText[];
    readonly figures: readonly { readonly value: string; readonly label: string; readonly of: string }[];
    readonly advice: string;
    readonly sign: string;
    readonly map: PlacedImage | null;
  };
  readonly summary: {
    readonly paragraphs: readonly string[];
    readonly priorities: readonly {
      readonly rank: number;
      readonly name: string;
      readonly meaning: string;
      readonly count: string;
      readonly numbers: readonly string[];
    }[];
    readonly rows: readonly FindingRow[];
  };
  readonly maps: readonly { readonly title: string; readonly image: PlacedImage; readonly caption: string }[];
  readonly findings: readonly FindingPage[];
  readonly coverage: {
    readonly states: { readonly finding: string; readonly clear: string; readonly notSeen: string };
    readonly byKind: readonly (readonly string[])[];
    readonly flyAgain: readonly (readonly string[])[];
    readonly all: readonly (readonly string[])[];
    readonly allTitle: string;
    readonly note: string;
  };
  /** null where no earlier campaign was given. */
  readonly changes: {
    readonly lead: string;
    readonly counts: readonly (readonly string[])[];
    readonly rows: readonly (readonly string[])[];
    readonly note: string;
  } | null;
  readonly method: readonly string[];
  readonly appendix: {
    readonly flights: readonly {
      readonly title: string;
      readonly rows: readonly LabelledText[];
      readonly quality: readonly LabelledText[];
      readonly leftOut: readonly LabelledText[];
    }[];
    readonly suspects: readonly (readonly string[])[];
    /** That these are not all of them, and where the rest is; empty where they are. */
    readonly suspectsMore: string;
    readonly rejected: readonly (readonly string[])[];
    readonly identity: readonly { readonly title: string; readonly rows: readonly LabelledText[] }[];
  };
  readonly cautions: readonly string[];
  readonly glossary: readonly LabelledText[];
}

export interface LabelledText {
  readonly label: string;
  readonly text: string;
}

/** A picture in the report's folder of assets, with its size on paper and words for those who cannot see it. */
export interface PlacedImage {
  readonly file: string;
  readonly widthMm: number;
  readonly heightMm: number;
  readonly alt: string;
}

/** A picture of which only the part under the drawing shows; shifts are from the drawing's corner to the picture's. */
export interface OverlaidPicture {
  readonly picture: PlacedImage;
  readonly drawing: PlacedImage;
  readonly shiftLeftMm: number;
  readonly shiftTopMm: number;
  readonly caption: string;
}

export interface FindingRow {
  readonly number: string;
  readonly rank: number;
  readonly priority: string;
  readonly component: string;
  readonly place: string;
  readonly rate: string;
  readonly accuracy: string;
  readonly probability: string;
}

export interface FindingPage {
  readonly number: string;
  readonly anchor: string;
  readonly rank: number;
  readonly priority: string;
  readonly component: string;
  readonly place: string;
  readonly of: string;
  readonly overlay: OverlaidPicture | null;
  /** The whole crop without ultraviolet, with the frame of the close-up. */
  readonly plain: { readonly picture: PlacedImage; readonly drawing: PlacedImage; readonly caption: string } | null;
  /** A close-up from elsewhere. */
  readonly second: OverlaidPicture | null;
  readonly plan: { readonly image: PlacedImage; readonly caption: string };
  readonly side: { readonly image: PlacedImage; readonly caption: string } | null;
  readonly where: readonly LabelledText[];
  readonly strength: readonly LabelledText[];
  readonly conditions: readonly LabelledText[];
  readonly candidates: readonly (readonly [name: string, probability: string, distance: string])[];
  readonly grade: readonly LabelledText[];
  /** This campaign and earlier ones, a row each; empty where there is none. */
  readonly history: readonly (readonly string[])[];
  readonly review: readonly string[];
  readonly notes: readonly string[];
}

/** A file that the template refers to; written beside it before the pages are set. */
export interface Asset {
  readonly file: string;
  readonly content: string | Uint8Array;
}
