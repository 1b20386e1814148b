import { useTranslation } from 'react-i18next';
import type { Problem } from '../server/Problem.ts';
import { Notice } from './Notice.tsx';
import { TokenForm } from './TokenForm.tsx';

export function ProblemNotice({ problem, onAgain }: { problem: Problem; onAgain?: () => void }) {
  const { t } = useTranslation();
  if (problem.kind === 'token') return <TokenForm />;
  const again = onAgain && (
    <button type="button" onClick={onAgain}>
      {t('shell.again')}
    </button>
  );
  if (problem.kind === 'offline')
    return (
      <Notice kind="offline" title={t('shell.offline')}>
        <p>{t('shell.offlineWhat')}</p>
        {again}
      </Notice>
    );
  const where = [
    problem.file && t('shell.failedWhere', { file: problem.file }),
    problem.row !== undefined && t('shell.failedRow', { row: problem.row }),
    problem.field && t('shell.failedField', { field: problem.field }),
  ].filter(Boolean);
  return (
    <Notice kind="failed" title={t('shell.failed')}>
      <p>{t('shell.failedBy', { text: problem.detail || problem.title })}</p>
      {(where.length > 0 || problem.found) && (
        <ul>
          {where.length > 0 && <li>{where.join(', ')}</li>}
          {problem.found && <li>{t('shell.failedFound', { found: problem.found })}</li>}
          {problem.expected && <li>{t('shell.failedExpected', { expected: problem.expected })}</li>}
        </ul>
      )}
      {problem.todo && <p>{t('shell.failedTodo', { todo: problem.todo })}</p>}
      {again}
    </Notice>
  );
}
