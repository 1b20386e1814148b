/** What the reader has set for the overlay. */
export interface StageSettings {
  readonly accumulateS: number;
  readonly follow: boolean;
  /** null: the true range. */
  readonly inverseRangePerM: number | null;
  readonly lines: boolean;
  readonly dots: boolean;
  readonly marks: boolean;
  readonly brightness: number;
  readonly measuring: boolean;
}

/** Four seconds, as in the report. */
export const usualSettings: StageSettings = {
  accumulateS: 4,
  follow: true,
  inverseRangePerM: null,
  lines: true,
  dots: true,
  marks: true,
  brightness: 1,
  measuring: false,
};

export const ACCUMULATE_S = [0.02, 0.1, 0.5, 1, 2, 4, 10] as const;
