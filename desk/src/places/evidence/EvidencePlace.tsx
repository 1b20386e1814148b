import './evidence.css';
import { useMemo } from 'react';
import type { FindingAnswer, FindingsAnswer } from '../../server/answers.ts';
import { prefetch, useResource } from '../../server/resource.ts';
import { labelsOf } from '../../shell/findingLabel.ts';
import { Loaded } from '../../shell/Loaded.tsx';
import { Notice } from '../../shell/Notice.tsx';
import { go, hashOf, useRoute } from '../../shell/route.ts';
import { useWords } from '../../words/useWords.ts';
import { BesideView } from './BesideView.tsx';
import { OverlayView } from './OverlayView.tsx';
import { SpaceView } from './SpaceView.tsx';

const VIEWS = ['overlay', 'beside', 'space'] as const;
type View = (typeof VIEWS)[number];

export default function EvidencePlace() {
  const { t } = useWords();
  const findings = useResource<FindingsAnswer>('/api/findings');
  return (
    <Loaded of={findings} what={t('evidence.what')}>
      {(data) =>
        data.findings.length === 0 ? (
          <Notice kind="empty" title={t('evidence.emptyTitle')}>
            <p>{t('evidence.emptyWhat')}</p>
            <a className="button" href={hashOf('line')}>
              {t('shell.toLine')}
            </a>
          </Notice>
        ) : (
          <EvidenceOf findings={data} />
        )
      }
    </Loaded>
  );
}

function EvidenceOf({ findings }: { findings: FindingsAnswer }) {
  const { t, terms, numbers } = useWords();
  const route = useRoute();
  const labels = useMemo(() => labelsOf(findings), [findings]);
  const rows = useMemo(() => findings.findings.filter((row) => row.mergedInto === null), [findings]);
  const first = useMemo(
    () => rows.reduce((best, row) => ((row.queuePlace ?? 1e9) < (best.queuePlace ?? 1e9) ? row : best), rows[0]!),
    [rows],
  );
  const id = route.item ?? first.id;
  const place = rows.findIndex((row) => row.id === id);
  const row = rows[place];
  const detail = useResource<FindingAnswer>(row ? `/api/findings/${encodeURIComponent(id)}` : null);
  const view = VIEWS.find((name) => name === route.parameters.get('view')) ?? 'overlay';
  const names: Record<View, string> = {
    overlay: t('evidence.viewOverlay'),
    beside: t('evidence.viewBeside'),
    space: t('evidence.viewSpace'),
  };
  if (!row)
    return (
      <Notice kind="empty" title={t('evidence.unknownTitle')}>
        <p>{t('evidence.unknownWhat')}</p>
        <a className="button" href={hashOf('findings')}>
          {t('evidence.allFindings')}
        </a>
      </Notice>
    );
  const to = (index: number) => {
    const next = rows[index];
    if (next) go('evidence', next.id, view === 'overlay' ? {} : { view });
  };
  const next = rows[place + 1];
  if (next) prefetch(`/api/findings/${encodeURIComponent(next.id)}`);
  return (
    <div className="evidence-place">
      <div className="evidence-head">
        <div className="joined">
          <button type="button" disabled={place <= 0} onClick={() => to(place - 1)} aria-label={t('evidence.earlier')}>
            ‹
          </button>
          <select aria-label={t('evidence.finding')} value={id} onChange={(e) => go('evidence', e.target.value)}>
            {rows.map((each) => (
              <option key={each.id} value={each.id}>
                {labels.get(each.id)} · {terms.priorities[each.priority]} · {each.componentId ?? '–'}
              </option>
            ))}
          </select>
          <button type="button" disabled={!next} onClick={() => to(place + 1)} aria-label={t('evidence.later')}>
            ›
          </button>
        </div>
        <fieldset className="joined views" aria-label={t('evidence.views')}>
          {VIEWS.map((name) => (
            <button
              key={name}
              type="button"
              aria-pressed={view === name}
              onClick={() => go('evidence', id, name === 'overlay' ? {} : { view: name })}
            >
              {names[name]}
            </button>
          ))}
        </fieldset>
        <p className="evidence-sum">
          <strong className="figure">{numbers.rate({ rateHz: row.rateHz, interval: row.rateInterval })}</strong>{' '}
          <span className="soft">
            {t('evidence.probability', {
              p: numbers.percent(row.componentProbability),
              component: row.componentId ?? terms.componentUnknown,
            })}
          </span>
        </p>
        <span className="row keep-right">
          <a className="button" href={hashOf('line', `finding:${id}`)}>
            {t('evidence.onLine')}
          </a>
          <a className="button" href={hashOf('findings', id)}>
            {t('evidence.decide')}
          </a>
        </span>
      </div>
      <Loaded of={detail} what={t('evidence.what')}>
        {(finding) =>
          view === 'beside' ? (
            <BesideView key={id} finding={finding} />
          ) : view === 'space' ? (
            <SpaceView key={id} finding={finding} />
          ) : (
            <OverlayView key={id} finding={finding} />
          )
        }
      </Loaded>
    </div>
  );
}
