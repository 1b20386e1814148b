import { useState } from 'react';
import { useTranslation } from 'react-i18next';
import { ask } from '../server/ask.ts';
import { Notice } from './Notice.tsx';

/** Shown where the server is open to the network and wants to know who asks. */
export function TokenForm() {
  const { t } = useTranslation();
  const [wrong, setWrong] = useState(false);
  return (
    <Notice kind="failed" title={t('shell.tokenTitle')}>
      <form
        className="row"
        onSubmit={async (event) => {
          event.preventDefault();
          const key = new FormData(event.currentTarget).get('key');
          try {
            await ask('/api/session', {
              method: 'POST',
              headers: { 'content-type': 'application/json' },
              body: JSON.stringify({ key }),
            });
            location.reload();
          } catch {
            setWrong(true);
          }
        }}
      >
        <label className="field">
          {t('shell.token')}
          <input name="key" type="password" autoComplete="off" required aria-invalid={wrong} />
        </label>
        <button type="submit" className="chief">
          {t('shell.tokenSend')}
        </button>
      </form>
      <p className={wrong ? '' : 'soft'}>{t(wrong ? 'shell.tokenWrong' : 'shell.tokenWhy')}</p>
    </Notice>
  );
}
