import { useVirtualizer } from '@tanstack/react-virtual';
import { useEffect, useRef } from 'react';
import { sentenceCase } from '../../../../src/report/componentLabel.ts';
import type { FindingRow } from '../../server/answers.ts';
import { useWords } from '../../words/useWords.ts';
import { PriorityMark } from './PriorityMark.tsx';
import { COLUMNS, type ColumnName, type SortBy } from './sortFindings.ts';

const ROW_PX = 52;

/** The findings as a grid of its own: only the rows in sight exist, whatever their number. */
export function FindingsTable({
  rows,
  labels,
  chosen,
  onChoose,
  marked,
  onMarked,
  sort,
  onSort,
  onDecide,
}: {
  rows: readonly FindingRow[];
  labels: ReadonlyMap<string, string>;
  chosen: string | null;
  onChoose: (id: string) => void;
  marked: ReadonlySet<string>;
  onMarked: (marked: ReadonlySet<string>) => void;
  sort: SortBy;
  onSort: (sort: SortBy) => void;
  onDecide: (row: FindingRow, decision: FindingRow['decision']) => void;
}) {
  const { t, terms, numbers } = useWords();
  const scroller = useRef<HTMLDivElement>(null);
  const virtual = useVirtualizer({
    count: rows.length,
    getScrollElement: () => scroller.current,
    estimateSize: () => ROW_PX,
    overscan: 8,
  });
  const place = rows.findIndex((row) => row.id === chosen);
  // biome-ignore lint/correctness/useExhaustiveDependencies: the chosen row is brought into sight when it changes
  useEffect(() => {
    if (place >= 0) virtual.scrollToIndex(place, { align: 'auto' });
  }, [place, rows]);
  const names: Record<ColumnName, string> = {
    number: t('findings.colNumber'),
    priority: t('findings.colPriority'),
    decision: t('findings.colDecision'),
    component: t('findings.colComponent'),
    probability: t('findings.colProbability'),
    place: t('findings.colPlace'),
    rate: t('findings.colRate'),
    accuracy: t('findings.colAccuracy'),
    passes: t('findings.colPasses'),
    queue: t('findings.colQueue'),
  };
  const cell = (row: FindingRow, column: ColumnName) => {
    switch (column) {
      case 'number':
        return <strong>{labels.get(row.id)}</strong>;
      case 'priority':
        return (
          <>
            <PriorityMark priority={row.priority} /> {terms.priorities[row.priority]}
          </>
        );
      case 'decision':
        return terms.decisions[row.decision];
      case 'component':
        return (
          <>
            {row.componentKind ? sentenceCase(terms.kinds[row.componentKind]) : terms.componentUnknown}
            <span className="soft small under">{row.componentId ?? '–'}</span>
          </>
        );
      case 'probability':
        return numbers.percent(row.componentProbability);
      case 'place':
        return (
          <>
            {row.structureIds.join(' – ') || '–'}
            {row.alongM !== null && (
              <span className="soft small under">{t('findings.meters', { m: numbers.fixed(row.alongM, 0) })}</span>
            )}
          </>
        );
      case 'rate': {
        const [rate, interval] = numbers.rateLines({ rateHz: row.rateHz, interval: row.rateInterval }).split('\n');
        return (
          <>
            {rate}
            <span className="soft small under">{interval?.replace(terms.photonsPerSecond, '').trim()}</span>
          </>
        );
      }
      case 'accuracy':
        return t('findings.accuracy', {
          h: numbers.significant(row.horizontal95.majorM, 2),
          v: numbers.significant(row.vertical95M, 2),
        });
      case 'passes':
        return numbers.integer(row.passes);
      case 'queue':
        return row.queuePlace ?? '–';
    }
  };
  const move = (to: number) => {
    const row = rows[Math.min(rows.length - 1, Math.max(0, to))];
    if (row) onChoose(row.id);
  };
  const toggle = (id: string) => {
    const next = new Set(marked);
    if (!next.delete(id)) next.add(id);
    onMarked(next);
  };
  return (
    <div
      className="grid-scroll"
      ref={scroller}
      role="grid"
      aria-label={t('findings.table')}
      aria-describedby="grid-keys"
      aria-rowcount={rows.length + 1}
      aria-multiselectable="true"
      aria-activedescendant={place >= 0 ? `row-${rows[place]!.id}` : undefined}
      tabIndex={0}
      onKeyDown={(event) => {
        if (event.target !== event.currentTarget || event.ctrlKey || event.metaKey || event.altKey) return;
        const row = rows[place];
        const page = Math.max(1, Math.floor(event.currentTarget.clientHeight / ROW_PX) - 1);
        const keys = new Map<string, () => void>([
          ['ArrowDown', () => move(place + 1)],
          ['ArrowUp', () => move(place - 1)],
          ['PageDown', () => move(place + page)],
          ['PageUp', () => move(place - page)],
          ['Home', () => move(0)],
          ['End', () => move(rows.length - 1)],
          [' ', () => row && toggle(row.id)],
          ['Enter', () => document.getElementById('finding-detail')?.focus()],
          ['c', () => row && onDecide(row, 'confirmed')],
          ['r', () => row && onDecide(row, 'rejected')],
          ['o', () => row && onDecide(row, 'open')],
        ]);
        const act = keys.get(event.key.length === 1 ? event.key.toLowerCase() : event.key);
        if (!act) return;
        event.preventDefault();
        act();
      }}
    >
      <p id="grid-keys" className="unseen">
        {t('findings.tableKeys')}
      </p>
      <div role="rowgroup" className="grid-head">
        <div role="row" className="grid-row" aria-rowindex={1}>
          {COLUMNS.map((column) => (
            <div
              key={column}
              role="columnheader"
              aria-sort={sort.column === column ? (sort.descending ? 'descending' : 'ascending') : 'none'}
              className={`col-${column}`}
            >
              <button
                type="button"
                className="plain"
                onClick={() => onSort({ column, descending: sort.column === column && !sort.descending })}
              >
                {names[column]}
                <span aria-hidden="true">{sort.column === column ? (sort.descending ? ' ↓' : ' ↑') : ''}</span>
              </button>
            </div>
          ))}
        </div>
      </div>
      <div role="rowgroup" className="grid-body" style={{ height: virtual.getTotalSize() }}>
        {virtual.getVirtualItems().map((item) => {
          const row = rows[item.index]!;
          return (
            <div
              key={row.id}
              id={`row-${row.id}`}
              role="row"
              aria-rowindex={item.index + 2}
              aria-selected={row.id === chosen || marked.has(row.id)}
              className={`grid-row${row.id === chosen ? ' chosen' : ''}${marked.has(row.id) ? ' marked' : ''}${row.decision === 'rejected' ? ' rejected' : ''}`}
              style={{ transform: `translateY(${item.start}px)`, height: ROW_PX }}
              onClick={(event) => (event.ctrlKey || event.metaKey ? toggle(row.id) : onChoose(row.id))}
            >
              {COLUMNS.map((column) => (
                <div key={column} role="gridcell" className={`col-${column}`}>
                  {cell(row, column)}
                </div>
              ))}
            </div>
          );
        })}
      </div>
    </div>
  );
}
