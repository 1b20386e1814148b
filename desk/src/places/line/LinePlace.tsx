import './line.css';
import { lazy, Suspense, useCallback, useMemo, useRef, useState } from 'react';
import type {
  CampaignAnswer,
  FindingsAnswer,
  LineAnswer,
  SightingsAnswer,
  TrajectoryAnswer,
} from '../../server/answers.ts';
import { useResource } from '../../server/resource.ts';
import { chainageOf } from '../../sheet/Chainage.ts';
import { SheetCanvas, type SheetHandle } from '../../sheet/SheetCanvas.tsx';
import type { Aspect, ItemRef } from '../../sheet/SheetItems.ts';
import { buildSheetItems } from '../../sheet/SheetItems.ts';
import type { Viewport } from '../../sheet/Viewport.ts';
import { labelsOf } from '../../shell/findingLabel.ts';
import { Loaded } from '../../shell/Loaded.tsx';
import { Notice } from '../../shell/Notice.tsx';
import { goQuietly, useRoute } from '../../shell/route.ts';
import { useWords } from '../../words/useWords.ts';
import { LinePanel } from './LinePanel.tsx';
import { useTracks } from './useTracks.ts';

// The map library is fetched only where a tile file was given.
const BaseMap = lazy(() => import('./BaseMap.tsx'));

export default function LinePlace() {
  const { t } = useWords();
  const line = useResource<LineAnswer>('/api/line');
  const findings = useResource<FindingsAnswer>('/api/findings');
  const campaign = useResource<CampaignAnswer>('/api/campaign');
  return (
    <Loaded of={line} what={t('line.what')}>
      {(data) =>
        data.structures.length + data.conductors.length + data.components.length === 0 ? (
          <Notice kind="empty" title={t('line.emptyTitle')}>
            <p>{t('line.emptyWhat')}</p>
          </Notice>
        ) : (
          <LineSheets
            line={data}
            findings={findings.state === 'ready' ? findings.data : null}
            campaign={campaign.state === 'ready' ? campaign.data : null}
          />
        )
      }
    </Loaded>
  );
}

const refOf = (item: string | null): ItemRef | null => {
  const [kind, ...rest] = (item ?? '').split(':');
  const id = rest.join(':');
  return id && (kind === 'structure' || kind === 'component' || kind === 'finding') ? { kind, id } : null;
};

function LineSheets({
  line,
  findings,
  campaign,
}: {
  line: LineAnswer;
  findings: FindingsAnswer | null;
  campaign: CampaignAnswer | null;
}) {
  const { t, numbers } = useWords();
  const route = useRoute();
  const [sighting, setSighting] = useState<ItemRef | null>(null);
  const chosen = sighting ?? refOf(route.item);
  const [shows, setShows] = useState({ tracks: true, sightings: false, names: true, map: true });
  const [lower, setLower] = useState<Exclude<Aspect, 'plan'>>('profile');
  const [hover, setHover] = useState<readonly [number, number] | null>(null);
  const [view, setView] = useState<Viewport | null>(null);
  const plan = useRef<SheetHandle>(null);
  const below = useRef<SheetHandle>(null);

  // Fifty thousand sightings are a few megabytes: fetched only once they are asked for.
  const sightings = useResource<SightingsAnswer>(shows.sightings ? '/api/sightings' : null);
  const spots = shows.sightings && sightings.state === 'ready' ? sightings.data : null;
  const tracks: readonly TrajectoryAnswer[] = useTracks(campaign);

  const chainage = useMemo(() => chainageOf(line.structures.map((s) => s.footEnuM)), [line]);
  const labels = useMemo(() => (findings ? labelsOf(findings) : new Map<string, string>()), [findings]);
  const build = useCallback(
    (aspect: Aspect) =>
      buildSheetItems(
        aspect,
        chainage,
        line,
        findings?.findings ?? [],
        (row) => labels.get(row.id) ?? row.id,
        tracks,
        spots,
      ),
    [chainage, line, findings, labels, tracks, spots],
  );
  const planItems = useMemo(() => build('plan'), [build]);
  const lowerItems = useMemo(() => build(lower), [build, lower]);

  const choose = useCallback((ref: ItemRef | null) => {
    setSighting(ref?.kind === 'sighting' ? ref : null);
    goQuietly('line', ref && ref.kind !== 'sighting' ? `${ref.kind}:${ref.id}` : null);
  }, []);
  const show = useCallback((ref: ItemRef) => {
    plan.current?.show(ref);
    below.current?.show(ref);
  }, []);

  const tiles = campaign?.tiles ?? null;
  const style = useMemo(
    () => ({
      shows,
      words: {
        north: t('line.north'),
        heightsStretched: (times: number) => t('line.stretched', { times: numbers.significant(times, 2) }),
        metres: (m: number) => `${numbers.asGiven(m, 7)} m`,
        limit: (limitHz: number) => t('line.clearFrom', { limit: numbers.limit(limitHz) }),
      },
    }),
    [shows, t, numbers],
  );
  const overMap = tiles !== null && shows.map;
  const planStyle = useMemo(() => ({ ...style, overMap }), [style, overMap]);
  const lowerName = t(lower === 'profile' ? 'line.profile' : 'line.across');
  return (
    <div className="line-place">
      <section className="plan" aria-label={t('line.plan')}>
        {overMap && campaign && view && (
          <Suspense>
            <BaseMap tiles={tiles} originLlh={campaign.originLlh} view={view} />
          </Suspense>
        )}
        <SheetCanvas
          handle={plan}
          items={planItems}
          style={planStyle}
          chosen={chosen}
          onChoose={choose}
          onHover={setHover}
          onView={overMap ? setView : undefined}
          label={t('line.planKeys')}
        />
        <div className="sheet-tools">
          <button type="button" onClick={() => plan.current?.zoom(1.6)} aria-label={t('line.closer')}>
            +
          </button>
          <button type="button" onClick={() => plan.current?.zoom(1 / 1.6)} aria-label={t('line.farther')}>
            −
          </button>
          <button
            type="button"
            onClick={() => {
              plan.current?.showAll();
              below.current?.showAll();
            }}
          >
            {t('line.wholeLine')}
          </button>
        </div>
        <p className="sheet-position" aria-hidden="true">
          {hover && t('line.position', { e: numbers.fixed(hover[0], 2), n: numbers.fixed(hover[1], 2) })}
        </p>
      </section>
      <section className="profile" aria-label={lowerName}>
        <SheetCanvas
          handle={below}
          items={lowerItems}
          style={style}
          chosen={chosen}
          onChoose={choose}
          label={t('line.profileKeys', { name: lowerName })}
        />
        <div className="sheet-tools">
          <fieldset className="joined" aria-label={t('line.aspect')}>
            {(['profile', 'across'] as const).map((aspect) => (
              <button key={aspect} type="button" aria-pressed={lower === aspect} onClick={() => setLower(aspect)}>
                {t(aspect === 'profile' ? 'line.aspectProfile' : 'line.aspectAcross')}
              </button>
            ))}
          </fieldset>
        </div>
      </section>
      <LinePanel
        line={line}
        findings={findings}
        labels={labels}
        campaign={campaign}
        sightings={spots}
        chosen={chosen}
        onChoose={(ref) => {
          choose(ref);
          if (ref) show(ref);
        }}
        onShow={show}
        shows={shows}
        onShows={setShows}
      />
    </div>
  );
}
