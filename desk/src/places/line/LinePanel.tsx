import type { CampaignAnswer, FindingsAnswer, LineAnswer, SightingsAnswer } from '../../server/answers.ts';
import type { ItemRef } from '../../sheet/SheetItems.ts';
import { useWords } from '../../words/useWords.ts';
import { ChosenOnLine } from './ChosenOnLine.tsx';
import { CoverageTable } from './CoverageTable.tsx';
import { FindOnLine } from './FindOnLine.tsx';
import { Legend } from './Legend.tsx';

export interface Shows {
  readonly tracks: boolean;
  readonly sightings: boolean;
  readonly names: boolean;
  readonly map: boolean;
}

/** The margin of the sheet: search, what is chosen, coverage, legend. */
export function LinePanel(props: {
  line: LineAnswer;
  findings: FindingsAnswer | null;
  labels: ReadonlyMap<string, string>;
  campaign: CampaignAnswer | null;
  sightings: SightingsAnswer | null;
  chosen: ItemRef | null;
  onChoose: (ref: ItemRef | null) => void;
  onShow: (ref: ItemRef) => void;
  shows: Shows;
  onShows: (shows: Shows) => void;
}) {
  const { t, numbers } = useWords();
  const { line, findings, labels, campaign, chosen, shows, onShows } = props;
  const ticks: [keyof Shows, string, boolean][] = [
    ['tracks', t('line.tracks'), true],
    ['sightings', t('line.sightings', { n: numbers.integer(campaign?.counts.sightings ?? 0) }), true],
    ['names', t('line.names'), true],
    ['map', t('line.map'), Boolean(campaign?.tiles)],
  ];
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it
    <aside className="line-panel" aria-label={t('line.results')} tabIndex={0}>
      <FindOnLine line={line} findings={findings} labels={labels} onChoose={props.onChoose} />
      {chosen && (
        <ChosenOnLine
          chosen={chosen}
          line={line}
          findings={findings}
          labels={labels}
          sightings={props.sightings}
          onChoose={props.onChoose}
          onShow={props.onShow}
        />
      )}
      <section>
        <h2>{t('line.show')}</h2>
        <div className="ticks">
          {ticks
            .filter(([, , possible]) => possible)
            .map(([key, word]) => (
              <label key={key} className="tick">
                <input
                  type="checkbox"
                  checked={shows[key]}
                  onChange={(event) => onShows({ ...shows, [key]: event.target.checked })}
                />
                {word}
              </label>
            ))}
        </div>
      </section>
      <CoverageTable line={line} inspected={(campaign?.flights.length ?? 0) > 0} />
      <Legend />
    </aside>
  );
}
