import { PRIORITIES } from '../../../../src/grade/Grade.ts';
import { useWords } from '../../words/useWords.ts';
import type { Filter } from './Filter.ts';

const DECISIONS = ['open', 'confirmed', 'rejected'] as const;

export function FilterBar({
  filter,
  onFilter,
  shown,
  all,
}: {
  filter: Filter;
  onFilter: (filter: Filter) => void;
  shown: number;
  all: number;
}) {
  const { t, terms, numbers } = useWords();
  return (
    <search className="filter-bar">
      <label className="field">
        {t('findings.search')}
        <input
          type="search"
          placeholder={t('findings.searchPlaceholder')}
          value={filter.words}
          onChange={(event) => onFilter({ ...filter, words: event.target.value })}
        />
      </label>
      <label className="field">
        {t('findings.filterPriority')}
        <select
          value={filter.priority ?? ''}
          onChange={(event) =>
            onFilter({ ...filter, priority: PRIORITIES.find((each) => each === event.target.value) ?? null })
          }
        >
          <option value="">{t('findings.any')}</option>
          {PRIORITIES.map((each) => (
            <option key={each} value={each}>
              {terms.priorities[each]}
            </option>
          ))}
        </select>
      </label>
      <label className="field">
        {t('findings.filterDecision')}
        <select
          value={filter.decision ?? ''}
          onChange={(event) =>
            onFilter({ ...filter, decision: DECISIONS.find((each) => each === event.target.value) ?? null })
          }
        >
          <option value="">{t('findings.any')}</option>
          {DECISIONS.map((each) => (
            <option key={each} value={each}>
              {terms.decisions[each]}
            </option>
          ))}
        </select>
      </label>
      <label className="tick">
        <input
          type="checkbox"
          checked={filter.queueOnly}
          onChange={(event) => onFilter({ ...filter, queueOnly: event.target.checked })}
        />
        {t('findings.filterQueue')}
      </label>
      <span className="soft small keep-right" role="status">
        {t('findings.shown', { shown: numbers.integer(shown), all: numbers.integer(all) })}
      </span>
    </search>
  );
}
