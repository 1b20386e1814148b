import type { CampaignAnswer } from '../server/answers.ts';
import { useConnection } from '../server/connection.ts';
import { useWords } from '../words/useWords.ts';

/** The block at the foot of the sheet: what this is a picture of, on which datum, made by what. */
export function TitleBlock({ campaign }: { campaign: CampaignAnswer | null }) {
  const { t, numbers, locale } = useWords();
  const { online, lastAnswer, revision } = useConnection();
  const cells: [string, string][] = campaign
    ? [
        [t('shell.blockLine'), campaign.line.name],
        [t('shell.blockFlights'), campaign.flights.map((flight) => flight.name).join(', ') || '–'],
        [
          t('shell.blockFindings'),
          t('shell.openOf', { open: campaign.counts.openFindings, all: campaign.counts.findings }),
        ],
        [
          t('shell.blockOrigin'),
          `${numbers.fixed(campaign.originLlh[1], 5)}°, ${numbers.fixed(campaign.originLlh[0], 5)}°`,
        ],
        [t('shell.blockSystem'), t('shell.blockSystemValue')],
        [t('shell.blockSoftware'), campaign.software],
      ]
    : [];
  cells.push([
    t('shell.blockState'),
    online
      ? t('shell.stateLive', { revision: (revision ?? campaign?.revision ?? '–').slice(0, 7) })
      : t('shell.stateOffline', { time: lastAnswer.toLocaleTimeString(locale) }),
  ]);
  return (
    <footer>
      <dl className="block" tabIndex={0} aria-label={t('shell.blockCampaign')}>
        {cells.map(([word, value]) => (
          <div key={word}>
            <dt>{word}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
    </footer>
  );
}
