import { useState } from 'react';
import type { LookUpTable } from '../../../../src/rig/lookUpTable.ts';
import type { TwoCameraModel } from '../../../../src/rig/Registration.ts';
import { useWords } from '../../words/useWords.ts';
import { type CheckedPlace, checkOverlay, deviationPx } from './overlayCheck.ts';

/** Lets anyone see that what the GPU draws is what the registration says. */
export function CheckOverlay({
  table,
  model,
  inverseRangePerM,
}: {
  table: LookUpTable;
  model: TwoCameraModel;
  inverseRangePerM: number;
}) {
  const { t, numbers } = useWords();
  const [done, setDone] = useState<{ places: CheckedPlace[]; inverseRangePerM: number } | 'no gpu' | null>(null);
  return (
    <section>
      <h2>{t('evidence.check')}</h2>
      <p className="small soft">{t('evidence.checkWhy')}</p>
      <div>
        <button
          type="button"
          onClick={() => {
            try {
              setDone({ places: checkOverlay(table, model, inverseRangePerM), inverseRangePerM });
            } catch {
              setDone('no gpu');
            }
          }}
        >
          {t('evidence.checkRun')}
        </button>
      </div>
      {done === 'no gpu' && <p role="status">{t('evidence.checkPlain')}</p>}
      {done && done !== 'no gpu' && (
        // The places themselves are kept with the sentence, for whoever checks the check.
        <output className="check-result" data-places={JSON.stringify(done)}>
          {t('evidence.checkDone', {
            px: numbers.significant(Math.max(...done.places.map(deviationPx)), 2),
            n: done.places.length,
            m:
              done.inverseRangePerM < 1e-5
                ? t('evidence.rangeInfinite')
                : numbers.significant(1 / done.inverseRangePerM, 4),
          })}
        </output>
      )}
    </section>
  );
}
