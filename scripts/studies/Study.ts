/** What every study of accuracy is: chance from seeds in, one page for `docs/accuracy/` out. */
export interface StudyOptions {
  /** How many rigs, flights or worlds to draw; each study has its own default. */
  readonly seeds?: number;
  /** Where to begin, so that a table can be repeated on seeds that nobody has looked at. */
  readonly firstSeed?: number;
  /** Called as the work goes on; goes to standard error. */
  readonly progress: (text: string) => void;
}

export interface StudyPage {
  readonly title: string;
  /** One sentence with the figures that decide, shown in `docs/accuracy.md`. */
  readonly headline: string;
  /** Everything below the title, Markdown, tables with the number of draws and their intervals. */
  readonly markdown: string;
}

/** A study is a file of this folder that exports `study`; `npm run accuracy -- NAME` runs it. */
export type Study = (options: StudyOptions) => StudyPage | Promise<StudyPage>;
