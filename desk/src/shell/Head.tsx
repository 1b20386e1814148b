import type { CampaignAnswer } from '../server/answers.ts';
import { changeLanguage } from '../words/language.ts';
import { useWords } from '../words/useWords.ts';
import { placesThere, warmPlace } from './places.ts';
import { askReviewer, useReviewer } from './reviewer.ts';
import { hashOf, useRoute } from './route.ts';
import { changeTheme, useTheme } from './theme.ts';

export function Head({ campaign }: { campaign: CampaignAnswer | null }) {
  const { t, language } = useWords();
  const route = useRoute();
  const theme = useTheme();
  const reviewer = useReviewer();
  const other = language === 'de' ? 'en' : 'de';
  return (
    <header className="head">
      <span className="who">{t('shell.product')}</span>
      <nav className="places" aria-label={t('shell.places')}>
        {placesThere().map((name) => (
          <a
            key={name}
            href={hashOf(name)}
            aria-current={route.place === name ? 'page' : undefined}
            onPointerEnter={() => warmPlace(name)}
          >
            {t(`shell.${name}`)}
          </a>
        ))}
      </nav>
      <span className="where" title={campaign?.name}>
        {campaign?.name}
      </span>
      <div className="settings">
        <button type="button" className="plain" onClick={() => void askReviewer()}>
          <span className="soft">{t('shell.reviewer')}</span> {reviewer ?? t('shell.reviewerNone')}
        </button>
        <button type="button" className="plain" lang={other} onClick={() => changeLanguage(other)}>
          {t('shell.otherLanguage')}
        </button>
        <button type="button" className="plain" onClick={() => changeTheme(theme === 'night' ? 'day' : 'night')}>
          {t(theme === 'night' ? 'shell.toDay' : 'shell.toNight')}
        </button>
      </div>
    </header>
  );
}
