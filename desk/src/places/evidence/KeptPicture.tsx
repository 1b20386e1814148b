import type { FindingAnswer } from '../../server/answers.ts';
import { Notice } from '../../shell/Notice.tsx';
import { useWords } from '../../words/useWords.ts';
import { KeptStage } from './KeptStage.tsx';

/** Without the recording: the picture that the inspection kept, and what would show more. */
export function KeptPicture({ finding }: { finding: FindingAnswer }) {
  const { t, numbers } = useWords();
  const kept = finding.evidenceList[0];
  if (!kept)
    return (
      <Notice kind="empty" title={t('evidence.noPicture')}>
        <p>{t('evidence.noKept')}</p>
      </Notice>
    );
  return (
    <div className="kept">
      <p className="small">
        {t('evidence.byKept', { flight: kept.flight, seconds: numbers.asGiven(kept.accumulatedS, 2) })}
      </p>
      <KeptStage evidence={kept} />
    </div>
  );
}
