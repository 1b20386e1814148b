import { useEffect, useMemo, useState } from 'react';
import type { BenchAnswer } from '../../../../src/server/api/bench.ts';
import { useWords } from '../../words/useWords.ts';

/** Longest arrow drawn, as a share of the image's width, for an arrow of twice the RMS. */
const ARROW_SHARE = 0.03;
const PLAYED_IN_S = 12;

/** Lamps in the ultraviolet image with what was left over, one after another as the run found them. */
export function ResidualArrows({
  bench,
  residuals,
}: {
  bench: BenchAnswer;
  residuals: NonNullable<BenchAnswer['residuals']>;
}) {
  const { t, numbers } = useWords();
  const [asBuilt, setAsBuilt] = useState(false);
  const [sweep, setSweep] = useState('');
  const [share, setShare] = useState(1);
  const [playing, setPlaying] = useState(false);
  const order = useMemo(
    () => [...residuals.tNs.keys()].sort((a, b) => residuals.tNs[a] - residuals.tNs[b]),
    [residuals],
  );
  const sweeps = useMemo(() => [...new Set(residuals.sweep)], [residuals]);
  useEffect(() => {
    if (!playing) return;
    const timer = setInterval(() => {
      setShare((before) => {
        const next = before + 0.1 / PLAYED_IN_S;
        if (next >= 1) setPlaying(false);
        return Math.min(1, next);
      });
    }, 100);
    return () => clearInterval(timer);
  }, [playing]);
  const [du, dv] = asBuilt ? [residuals.asBuiltDuPx, residuals.asBuiltDvPx] : [residuals.duPx, residuals.dvPx];
  const shown = order
    .slice(0, Math.round(share * order.length))
    .filter((i) => (sweep === '' || residuals.sweep[i] === sweep) && du[i] !== null && dv[i] !== null);
  const rms = Math.sqrt(shown.reduce((sum, i) => sum + du[i]! ** 2 + dv[i]! ** 2, 0) / Math.max(1, shown.length));
  const magnified = rms > 0 ? Number(((ARROW_SHARE * bench.uvWidthPx) / (2 * rms)).toPrecision(1)) : 1;
  const dot = bench.uvWidthPx / 350;
  const told = t('bench.found', {
    count: shown.length,
    rms: numbers.fixed(rms, 3),
    magnified: numbers.fixed(magnified, magnified < 1 ? 2 : 0),
  });
  return (
    <>
      <div className="row">
        <label className="field">
          {t('bench.state')}
          <select
            value={asBuilt ? 'as built' : 'held out'}
            onChange={(event) => setAsBuilt(event.target.value === 'as built')}
          >
            <option value="held out">{t('bench.stateHeldOut')}</option>
            <option value="as built">{t('bench.stateAsBuilt')}</option>
          </select>
        </label>
        <label className="field">
          {t('bench.sweep')}
          <select value={sweep} onChange={(event) => setSweep(event.target.value)}>
            <option value="">{t('bench.allSweeps')}</option>
            {sweeps.map((name) => (
              <option key={name}>{name}</option>
            ))}
          </select>
        </label>
      </div>
      <svg viewBox={`0 0 ${bench.uvWidthPx} ${bench.uvHeightPx}`} role="img" aria-label={told}>
        <polygon className="hull" points={bench.support.uvHullPx.map((at) => at.join(',')).join(' ')} />
        {shown.map((i) => (
          <g key={i}>
            <circle className="lamp" cx={residuals.uPx[i]} cy={residuals.vPx[i]} r={dot} />
            <line
              className="arrow"
              x1={residuals.uPx[i]}
              y1={residuals.vPx[i]}
              x2={residuals.uPx[i] + magnified * du[i]!}
              y2={residuals.vPx[i] + magnified * dv[i]!}
            />
          </g>
        ))}
      </svg>
      <div className="row">
        <button
          type="button"
          aria-pressed={playing}
          onClick={() => {
            if (!playing && share >= 1) setShare(0);
            setPlaying(!playing);
          }}
        >
          {t(playing ? 'bench.stop' : 'bench.play')}
        </button>
        <label className="field keep-right">
          {t('bench.upTo')}
          <input
            type="range"
            min="0"
            max="1"
            step="0.005"
            value={share}
            onChange={(event) => setShare(Number(event.target.value))}
          />
        </label>
      </div>
      <p className="soft small">{told}</p>
    </>
  );
}
