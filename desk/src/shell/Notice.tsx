import type { ReactNode } from 'react';
import { useTranslation } from 'react-i18next';

/** What stands where content would: never a blank. */
export function Notice({
  kind,
  title,
  children,
}: {
  kind: 'loading' | 'empty' | 'failed' | 'offline';
  title: string;
  children?: ReactNode;
}) {
  return (
    <div className={`notice ${kind}`} role={kind === 'failed' ? 'alert' : 'status'}>
      <span className="stroke" aria-hidden="true" />
      <h2>{title}</h2>
      {children}
    </div>
  );
}

export function LoadingNotice({ what }: { what: string }) {
  const { t } = useTranslation();
  return (
    <Notice kind="loading" title={t('shell.loading', { what })}>
      <p className="soft">{t('shell.loadingWait')}</p>
    </Notice>
  );
}
