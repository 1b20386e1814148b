export interface InspectOptions {
  readonly campaignFile: string;
  readonly rigFile: string;
  /** null: the campaign's line, or none. */
  readonly lineFile: string | null;
  /** null: the rig's nominal values, with their large uncertainty. */
  readonly registrationFile: string | null;
  /** null: the mounting that the rig states. */
  readonly mountingFile?: string | null;
  /** null: the gain curve that the rig states. */
  readonly responseFile?: string | null;
  /** null: the rules that ship. */
  readonly rulesFile: string | null;
  readonly falseAlarmsPerHour: number;
  /** Positions follow the mounting as stated, whatever the discharges say of it. */
  readonly asMounted?: boolean;
  /** Threads that read frames; by default as many as there are cores. The result is the same, to the byte. */
  readonly threads?: number;
  /** Inspect although the campaign holds this flight with the same provenance. */
  readonly again: boolean;
}
