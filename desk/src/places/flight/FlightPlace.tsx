import './flight.css';
import { useCallback, useState } from 'react';
import type { StreamsAnswer } from '../../../../src/server/api/flights.ts';
import { SeriesChart } from '../../chart/SeriesChart.tsx';
import type { CampaignAnswer } from '../../server/answers.ts';
import { useResource } from '../../server/resource.ts';
import { Loaded } from '../../shell/Loaded.tsx';
import { Notice } from '../../shell/Notice.tsx';
import { go, useRoute } from '../../shell/route.ts';
import { useWords } from '../../words/useWords.ts';
import { StreamsTold } from './StreamsTold.tsx';

const BINS = 600;

export default function FlightPlace() {
  const { t } = useWords();
  const campaign = useResource<CampaignAnswer>('/api/campaign');
  const { item } = useRoute();
  return (
    <Loaded of={campaign} what={t('shell.whatCampaign')}>
      {({ flights, furtherRecordings }) => {
        const names = [
          ...flights.filter(({ hasRecording }) => hasRecording).map(({ name }) => name),
          ...furtherRecordings,
        ];
        const name = item !== null && names.includes(item) ? item : names[0];
        if (name === undefined)
          return (
            <Notice kind="empty" title={t('flight.noneTitle')}>
              <p>{t('flight.noneWhat')}</p>
            </Notice>
          );
        return <Streams key={name} name={name} names={names} />;
      }}
    </Loaded>
  );
}

function Streams({ name, names }: { name: string; names: readonly string[] }) {
  const { t, numbers } = useWords();
  const [span, setSpan] = useState<readonly [number, number] | null>(null);
  const query = span === null ? '' : `&from=${Math.round(span[0])}&to=${Math.round(span[1])}`;
  const streams = useResource<StreamsAnswer>(`/api/flights/${encodeURIComponent(name)}/streams?bins=${BINS}${query}`);
  const whole = useCallback(() => setSpan(null), []);
  const look = useCallback((fromS: number, toS: number) => setSpan([fromS * 1e9, toS * 1e9]), []);
  return (
    <div className="flight-place">
      <div className="row">
        <h1>{t('flight.title')}</h1>
        <label className="field">
          {t('flight.which')}
          <select value={name} onChange={(event) => go('flight', event.target.value)}>
            {names.map((one) => (
              <option key={one}>{one}</option>
            ))}
          </select>
        </label>
      </div>
      <Loaded of={streams} what={t('flight.what')}>
        {(data) => {
          const { fromNs, toNs, wholeFromNs, wholeToNs } = data;
          const middle = (fromNs + toNs) / 2;
          const half = (toNs - fromNs) / 2;
          const least = 2e8;
          const zoom = (factor: number): void =>
            setSpan([middle - Math.max(least, half * factor), middle + Math.max(least, half * factor)]);
          const shift = (by: number): void => {
            const from = Math.min(Math.max(wholeFromNs, fromNs + by * half), wholeToNs - 2 * half);
            setSpan([from, from + 2 * half]);
          };
          const seconds = (ns: number): string => numbers.fixed(ns / 1e9, 2);
          return (
            <>
              <div className="row">
                <div className="joined">
                  <button type="button" onClick={() => zoom(0.25)} disabled={half <= least}>
                    {t('flight.nearer')}
                  </button>
                  <button type="button" onClick={() => zoom(4)}>
                    {t('flight.farther')}
                  </button>
                  <button type="button" onClick={() => shift(-1)} disabled={fromNs <= wholeFromNs}>
                    {t('flight.earlier')}
                  </button>
                  <button type="button" onClick={() => shift(1)} disabled={toNs >= wholeToNs}>
                    {t('flight.later')}
                  </button>
                  <button type="button" onClick={whole} disabled={span === null}>
                    {t('flight.whole')}
                  </button>
                </div>
                <span className="soft" role="status">
                  {t('flight.span', {
                    from: seconds(fromNs),
                    to: seconds(toNs),
                    whole: seconds(wholeToNs - wholeFromNs),
                    step: numbers.fixed((toNs - fromNs) / data.bins / 1e6, 1),
                  })}
                  {data.singleFrames && ` (${t('flight.singleFrames')})`}
                </span>
              </div>
              <p className="soft small">{t('flight.howTo')}</p>
              <Charts data={data} onSpan={look} onWhole={whole} />
              <StreamsTold data={data} onLook={look} />
            </>
          );
        }}
      </Loaded>
    </div>
  );
}

type Binned = StreamsAnswer['uv']['gain'];

function Charts({
  data,
  onSpan,
  onWhole,
}: {
  data: StreamsAnswer;
  onSpan: (fromS: number, toS: number) => void;
  onWhole: () => void;
}) {
  const { t } = useWords();
  const tS = data.tNs.map((ns) => ns / 1e9);
  const binned = (label: string, { mean, least, most }: Binned, more: object = {}) => ({
    label,
    values: mean,
    least,
    most,
    ...more,
  });
  const common = { tS, onSpan, onWhole };
  const { uv, colour, trajectory } = data;
  return (
    <div className="charts">
      {uv.eventsPerS && uv.notPhotonsPerS ? (
        <SeriesChart
          title={t('flight.events')}
          unit="1/s"
          digits={0}
          series={[
            { label: t('flight.photons'), values: uv.eventsPerS, ultraviolet: true },
            { label: t('flight.notPhotons'), values: uv.notPhotonsPerS, dashed: true },
          ]}
          {...common}
        />
      ) : (
        <p className="soft">{t('flight.noEvents')}</p>
      )}
      {uv.chargeDn && (
        <SeriesChart
          title={t('flight.charge')}
          unit="DN"
          digits={1}
          series={[{ label: '', values: uv.chargeDn, ultraviolet: true }]}
          {...common}
        />
      )}
      <SeriesChart
        title={t('flight.uvInterval')}
        unit="ms"
        digits={3}
        series={[binned('', uv.intervalMs)]}
        {...common}
      />
      <SeriesChart
        title={t('flight.colourInterval')}
        unit="ms"
        digits={3}
        series={[binned('', colour.intervalMs)]}
        {...common}
      />
      <SeriesChart
        title={t('flight.synchronisation')}
        unit="ms"
        digits={3}
        series={[binned('', data.synchronisationMs)]}
        {...common}
      />
      <SeriesChart title={t('flight.gain')} unit="" series={[binned('', uv.gain)]} {...common} />
      <SeriesChart title={t('flight.exposure')} unit="ms" digits={3} series={[binned('', uv.exposureMs)]} {...common} />
      <SeriesChart title={t('flight.speed')} unit="m/s" series={[binned('', trajectory.speedMps)]} {...common} />
      <SeriesChart title={t('flight.height')} unit="m" series={[binned('', trajectory.heightM)]} {...common} />
      <SeriesChart
        title={t('flight.attitude')}
        unit="°"
        series={[
          { label: t('flight.roll'), values: trajectory.rollDeg.mean },
          { label: t('flight.pitch'), values: trajectory.pitchDeg.mean, dashed: true },
        ]}
        {...common}
      />
      <SeriesChart title={t('flight.turn')} unit="°/s" series={[binned('', trajectory.turnDegps)]} {...common} />
      {trajectory.horizontalSigmaM && trajectory.verticalSigmaM ? (
        <SeriesChart
          title={t('flight.sigma')}
          unit="m"
          digits={3}
          series={[
            { label: t('flight.level'), values: trajectory.horizontalSigmaM.mean },
            { label: t('flight.upright'), values: trajectory.verticalSigmaM.mean, dashed: true },
          ]}
          {...common}
        />
      ) : (
        <p className="soft">{t('flight.noSigma')}</p>
      )}
    </div>
  );
}
