import { useMemo, useState } from 'react';
import type { CampaignAnswer, FindingAnswer } from '../../server/answers.ts';
import { useResource } from '../../server/resource.ts';
import { Loaded } from '../../shell/Loaded.tsx';
import { useWords } from '../../words/useWords.ts';
import { KeptPicture } from './KeptPicture.tsx';
import { usePass } from './Pass.ts';
import { PassPlayer } from './PassPlayer.tsx';

/** The overlay of one pass, played from the recording; where that is not at hand, the picture that was kept. */
export function OverlayView({ finding }: { finding: FindingAnswer }) {
  const { t, numbers, locale } = useWords();
  const campaign = useResource<CampaignAnswer>('/api/campaign');
  const playable = useMemo(
    () => finding.sightingList.filter((s) => s.fromNs !== null && s.toNs !== null),
    [finding.sightingList],
  );
  // The strongest pass first: it shows most.
  const strongest = playable.reduce<(typeof playable)[number] | null>(
    (best, s) => (best === null || s.events > best.events ? s : best),
    null,
  );
  const [chosen, setChosen] = useState<string | null>(null);
  const sighting = playable.find((s) => s.id === chosen) ?? strongest;
  const flight =
    campaign.state === 'ready' ? campaign.data.flights.find((each) => each.name === sighting?.flight) : undefined;
  const pass = usePass(flight?.hasRecording ? sighting : null, flight?.provenance.registrationHash ?? null);
  if (campaign.state !== 'ready')
    return (
      <Loaded of={campaign} what={t('evidence.passWhat')}>
        {() => null}
      </Loaded>
    );
  if (!sighting || !flight?.hasRecording) return <KeptPicture finding={finding} />;
  const passes = (
    <label className="field">
      {t('evidence.pass')}
      <select value={sighting.id} onChange={(event) => setChosen(event.target.value)}>
        {playable.map((s, i) => (
          <option key={s.id} value={s.id}>
            {t('evidence.passOf', {
              n: i + 1,
              all: playable.length,
              time: new Date(s.fromUtc).toLocaleTimeString(locale, { timeZone: 'UTC' }),
              events: numbers.integer(s.events),
            })}
          </option>
        ))}
      </select>
    </label>
  );
  return (
    <Loaded of={pass} what={t('evidence.passWhat')}>
      {(data) => <PassPlayer key={sighting.id} pass={data} finding={finding} sighting={sighting} passes={passes} />}
    </Loaded>
  );
}
