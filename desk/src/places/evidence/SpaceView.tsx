import { lazy, Suspense } from 'react';
import type { FindingAnswer, LineAnswer } from '../../server/answers.ts';
import { useResource } from '../../server/resource.ts';
import { Loaded } from '../../shell/Loaded.tsx';
import { LoadingNotice } from '../../shell/Notice.tsx';
import { useWords } from '../../words/useWords.ts';

// three is large; it comes when someone looks into space.
const SpaceCanvas = lazy(() => import('./SpaceCanvas.tsx'));

export function SpaceView({ finding }: { finding: FindingAnswer }) {
  const { t, numbers } = useWords();
  const line = useResource<LineAnswer>('/api/line');
  const [a, b, c] = finding.halfAxes95M.map((m) => numbers.significant(m, 2));
  return (
    <div className="space">
      <Loaded of={line} what={t('evidence.viewSpace')}>
        {(data) => (
          <Suspense fallback={<LoadingNotice what={t('evidence.viewSpace')} />}>
            <SpaceCanvas finding={finding} line={data} />
          </Suspense>
        )}
      </Loaded>
      <p className="small soft">{t('evidence.spaceNote', { a, b, c })}</p>
    </div>
  );
}
