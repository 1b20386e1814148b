import { Suspense, useEffect } from 'react';
import type { CampaignAnswer } from '../server/answers.ts';
import { useConnection } from '../server/connection.ts';
import { refreshAll, useResource } from '../server/resource.ts';
import { useWords } from '../words/useWords.ts';
import { FaultBoundary } from './FaultBoundary.tsx';
import { Head } from './Head.tsx';
import { LoadingNotice, Notice } from './Notice.tsx';
import { ProblemNotice } from './ProblemNotice.tsx';
import { placeNamed, placesThere, warmPlace } from './places.ts';
import { ReviewerDialog } from './ReviewerDialog.tsx';
import { hashOf, useRoute } from './route.ts';
import { useSpoken } from './spoken.ts';
import { TitleBlock } from './TitleBlock.tsx';

/** The frame of the sheet: places above, the title block below, one place between. */
export function Desk() {
  const { t } = useWords();
  const route = useRoute();
  const campaign = useResource<CampaignAnswer>('/api/campaign');
  const spoken = useSpoken();
  const Place = placeNamed(route.place);
  const name = placesThere().find((place) => place === route.place);
  const title = name ? t(`shell.${name}`) : t('shell.noPlace');
  useEffect(() => {
    document.title = `${title} · Corposant`;
  }, [title]);
  useEffect(() => {
    // Once the first place is drawn the others' code is fetched, so that going there waits for nothing.
    const timer = setTimeout(() => placesThere().forEach(warmPlace), 1500);
    return () => clearTimeout(timer);
  }, []);
  return (
    <div className="shell">
      <button type="button" className="skip" onClick={() => document.getElementById('content')?.focus()}>
        {t('shell.skip')}
      </button>
      <Head campaign={campaign.state === 'ready' ? campaign.data : null} />
      <OfflineBand />
      <main className="floor" id="content" tabIndex={-1} aria-label={title}>
        <h1 className="unseen">{title}</h1>
        <FaultBoundary resetKey={location.hash}>
          {campaign.state === 'failed' ? (
            <ProblemNotice problem={campaign.problem} onAgain={refreshAll} />
          ) : !Place ? (
            <Notice kind="empty" title={t('shell.noPlace')}>
              <p>{t('shell.noPlaceWhat')}</p>
              <a className="button" href={hashOf('line')}>
                {t('shell.toLine')}
              </a>
            </Notice>
          ) : (
            <Suspense fallback={<LoadingNotice what={title} />}>
              <Place />
            </Suspense>
          )}
        </FaultBoundary>
      </main>
      <TitleBlock campaign={campaign.state === 'ready' ? campaign.data : null} />
      <div className="spoken" role="status" aria-live="polite">
        {spoken}
      </div>
      <ReviewerDialog />
    </div>
  );
}

function OfflineBand() {
  const { t, locale } = useWords();
  const { online, lastAnswer } = useConnection();
  // An empty row keeps the grid of the shell; the band is told as soon as it appears.
  return (
    <div role="status">
      {!online && (
        <div className="offline-band">
          <span>{t('shell.offlineBand', { time: lastAnswer.toLocaleTimeString(locale) })}</span>
          <button type="button" className="keep-right" onClick={refreshAll}>
            {t('shell.again')}
          </button>
        </div>
      )}
    </div>
  );
}
