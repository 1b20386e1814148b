import { useEffect, useRef, useSyncExternalStore } from 'react';
import { useTranslation } from 'react-i18next';
import { answerReviewer, isAsking, reviewerNow, subscribeToAsking } from './reviewer.ts';

export function ReviewerDialog() {
  const { t } = useTranslation();
  const asking = useSyncExternalStore(subscribeToAsking, isAsking);
  const dialog = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    if (asking) dialog.current?.showModal();
    else dialog.current?.close();
  }, [asking]);
  return (
    <dialog ref={dialog} onClose={() => asking && answerReviewer(null)} aria-labelledby="who-reviews">
      {asking && (
        <form
          method="dialog"
          onSubmit={(event) => {
            event.preventDefault();
            const name = String(new FormData(event.currentTarget).get('name')).trim();
            if (name) answerReviewer(name);
          }}
        >
          <h2 id="who-reviews">{t('shell.reviewerAsk')}</h2>
          <p className="soft">{t('shell.reviewerWhy')}</p>
          <label className="field">
            {t('shell.reviewerName')}
            <input name="name" required maxLength={60} autoComplete="off" defaultValue={reviewerNow() ?? ''} />
          </label>
          <div className="row">
            <button type="submit" className="chief">
              {t('shell.save')}
            </button>
            <button type="button" onClick={() => answerReviewer(null)}>
              {t('shell.cancel')}
            </button>
          </div>
        </form>
      )}
    </dialog>
  );
}
