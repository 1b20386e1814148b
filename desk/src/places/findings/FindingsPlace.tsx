import './findings.css';
import { useCallback, useMemo, useState } from 'react';
import type { CampaignAnswer, FindingsAnswer } from '../../server/answers.ts';
import { prefetch, useResource } from '../../server/resource.ts';
import { labelsOf } from '../../shell/findingLabel.ts';
import { Loaded } from '../../shell/Loaded.tsx';
import { Notice } from '../../shell/Notice.tsx';
import { goQuietly, hashOf, useRoute } from '../../shell/route.ts';
import { useWords } from '../../words/useWords.ts';
import { emptyFilter, type Filter, passes } from './Filter.ts';
import { FilterBar } from './FilterBar.tsx';
import { FindingDetail } from './FindingDetail.tsx';
import { FindingsTable } from './FindingsTable.tsx';
import { QueueBand } from './QueueBand.tsx';
import { type SortBy, sorted } from './sortFindings.ts';
import { useReview } from './useReview.ts';

export default function FindingsPlace() {
  const { t } = useWords();
  const findings = useResource<FindingsAnswer>('/api/findings');
  const campaign = useResource<CampaignAnswer>('/api/campaign');
  return (
    <Loaded of={findings} what={t('findings.what')}>
      {(data) =>
        data.findings.length === 0 ? (
          <Notice kind="empty" title={t('findings.emptyTitle')}>
            <p>{t('findings.emptyWhat')}</p>
            <a className="button" href={hashOf('line')}>
              {t('shell.toLine')}
            </a>
          </Notice>
        ) : (
          <Findings data={data} mayWrite={campaign.state !== 'ready' || campaign.data.mayWrite} />
        )
      }
    </Loaded>
  );
}

function Findings({ data, mayWrite }: { data: FindingsAnswer; mayWrite: boolean }) {
  const { t } = useWords();
  const route = useRoute();
  const labels = useMemo(() => labelsOf(data), [data]);
  const [filter, setFilter] = useState<Filter>(emptyFilter);
  const [sort, setSort] = useState<SortBy>({ column: 'queue', descending: false });
  const [marked, setMarked] = useState<ReadonlySet<string>>(new Set());
  const rows = useMemo(() => {
    const there = data.findings.filter((row) => row.mergedInto === null);
    return sorted(
      there.filter((row) => passes(row, labels.get(row.id) ?? '', filter)),
      sort,
      labels,
    );
  }, [data, labels, filter, sort]);
  const all = data.findings.filter((row) => row.mergedInto === null).length;
  const id = route.item ?? rows[0]?.id ?? null;
  const row = [...data.findings, ...data.merged].find((each) => each.id === id) ?? null;
  const choose = useCallback((next: string) => goQuietly('findings', next), []);
  const review = useReview(labels);

  const queue = useMemo(
    () =>
      data.findings
        .filter((each) => each.queuePlace !== null && each.mergedInto === null)
        .sort((a, b) => a.queuePlace! - b.queuePlace!),
    [data],
  );
  const after = queue.find((each) => each.id !== id) ?? null;
  if (after) prefetch(`/api/findings/${encodeURIComponent(after.id)}`);
  return (
    <div className="findings-place">
      <div className="findings-list">
        <QueueBand queue={queue} labels={labels} onGo={choose} review={review} mayWrite={mayWrite} />
        <FilterBar filter={filter} onFilter={setFilter} shown={rows.length} all={all} />
        {rows.length === 0 ? (
          <Notice kind="empty" title={t('findings.noneMatchTitle')}>
            <p>{t('findings.noneMatchWhat')}</p>
            <button type="button" onClick={() => setFilter(emptyFilter)}>
              {t('findings.clearFilters')}
            </button>
          </Notice>
        ) : (
          <FindingsTable
            rows={rows}
            labels={labels}
            chosen={row?.id ?? null}
            onChoose={choose}
            marked={marked}
            onMarked={setMarked}
            sort={sort}
            onSort={setSort}
            onDecide={(which, decision) => mayWrite && void review.decide([which], decision)}
          />
        )}
      </div>
      {row ? (
        <FindingDetail
          key={row.id}
          row={row}
          all={data}
          labels={labels}
          marked={marked}
          onUnmark={() => setMarked(new Set())}
          mayWrite={mayWrite}
          review={review}
          next={after?.id ?? null}
          onChoose={choose}
        />
      ) : (
        <aside className="finding-detail">
          <p className="soft">{t('findings.noneChosen')}</p>
        </aside>
      )}
    </div>
  );
}
