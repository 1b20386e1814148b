import './bench.css';
import type { BenchAnswer } from '../../../../src/server/api/bench.ts';
import { useResource } from '../../server/resource.ts';
import { Loaded } from '../../shell/Loaded.tsx';
import { useWords } from '../../words/useWords.ts';
import { ResidualArrows } from './ResidualArrows.tsx';

export default function BenchPlace() {
  const { t } = useWords();
  const bench = useResource<BenchAnswer>('/api/bench');
  return (
    <Loaded of={bench} what={t('bench.what')}>
      {(data) => (
        <div className="bench-place">
          <h1>{t('bench.title')}</h1>
          <Facts bench={data} />
          <Ladder bench={data} />
          <section>
            <h2>{t('bench.residuals')}</h2>
            <p className="soft small">{t('bench.residualsWhat')}</p>
            {data.residuals ? (
              <ResidualArrows bench={data} residuals={data.residuals} />
            ) : (
              <p>{t('bench.residualsNone')}</p>
            )}
          </section>
          <Ranges bench={data} />
          <Comparison bench={data} />
          <Open bench={data} />
        </div>
      )}
    </Loaded>
  );
}

function Facts({ bench }: { bench: BenchAnswer }) {
  const { t, numbers } = useWords();
  const rows: [string, string][] = [
    [t('bench.rig'), bench.rigId],
    [t('bench.run'), bench.benchName],
    [t('bench.recorded'), bench.recordedUtc],
    [t('bench.heldOut'), `${numbers.fixed(bench.heldOutRmsPx, 3)} px`],
    [t('bench.noise'), `${numbers.fixed(bench.noiseFloorPx, 3)} px`],
    [t('bench.pairs'), t('bench.pairsValue', { pairs: bench.correspondences, frames: bench.framesUsed })],
    [t('bench.range'), `${numbers.fixed(bench.support.nearestM, 1)} – ${numbers.fixed(bench.support.farthestM, 1)} m`],
  ];
  return (
    <section>
      <h2>{t('bench.facts')}</h2>
      <dl className="pairs">
        {rows.map(([word, value]) => (
          <div key={word} style={{ display: 'contents' }}>
            <dt>{word}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
      {bench.certificate ? (
        <a className="button" href={bench.certificate} target="_blank" rel="noreferrer">
          {t('bench.openCertificate')}
        </a>
      ) : (
        <p className="soft">{t('bench.noCertificate')}</p>
      )}
    </section>
  );
}

function Ladder({ bench }: { bench: BenchAnswer }) {
  const { t, told, numbers } = useWords();
  const { rows, chosen, foldedBy } = bench.ladder;
  const px = (value: number | null): string => (value === null ? '–' : numbers.fixed(value, 3));
  const sizes = rows.flatMap(({ heldOutRmsPx }) => (heldOutRmsPx === null ? [] : [Math.log(heldOutRmsPx)]));
  const [least, most] = [Math.min(...sizes), Math.max(...sizes)];
  const barRem = (value: number | null): number =>
    value === null ? 0 : 0.3 + (6 * (Math.log(value) - least)) / Math.max(1e-9, most - least);
  return (
    <section>
      <h2>{t('bench.ladder')}</h2>
      <p className="soft small">{t('bench.ladderWhat', { foldedBy: told(foldedBy) })}</p>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reached by the keyboard alone */}
      <section className="scroll" tabIndex={0} aria-label={t('bench.ladder')}>
        <table className="plain">
          <thead>
            <tr>
              <th scope="col">{t('bench.model')}</th>
              <th scope="col" className="number">
                {t('bench.parameters')}
              </th>
              <th scope="col" className="number">
                {t('bench.inSample')}
              </th>
              <th scope="col" className="number">
                {t('bench.heldOutShort')}
              </th>
              <th scope="col" className="number">
                {t('bench.ownRange')}
              </th>
              <td />
            </tr>
          </thead>
          <tbody>
            {rows.map((row) => (
              <tr key={row.kind} className={row.kind === chosen ? 'chosen' : ''}>
                <th scope="row">
                  {told(row.kind)}
                  {row.kind === chosen && ` (${t('bench.chosen')})`}
                </th>
                <td className="number">{row.parameters}</td>
                <td className="number">{px(row.inSampleRmsPx)}</td>
                <td className="number figure">
                  {px(row.heldOutRmsPx)} ± {px(row.heldOutStandardErrorPx)}
                </td>
                <td className="number">{px(row.ownRangeHeldOutRmsPx)}</td>
                <td>
                  <span className="bar" style={{ width: `${barRem(row.heldOutRmsPx)}rem` }} aria-hidden="true" />
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </section>
    </section>
  );
}

function Ranges({ bench }: { bench: BenchAnswer }) {
  const { t, numbers } = useWords();
  const parallax = new Map(bench.parallax.map(({ rangeM, px }) => [rangeM, px]));
  return (
    <section>
      <h2>{t('bench.behaviour')}</h2>
      <p className="soft small">{t('bench.behaviourWhat')}</p>
      <table className="plain">
        <thead>
          <tr>
            {(['rangeM', 'meanSigma', 'worstSigma', 'parallax'] as const).map((word) => (
              <th key={word} scope="col" className="number">
                {t(`bench.${word}`)}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {bench.byRange.map(({ rangeM, meanSigmaPx, worstSigmaPx }) => (
            <tr key={String(rangeM)}>
              <th scope="row" className="number">
                {rangeM === null ? t('bench.infinite') : numbers.fixed(rangeM, 0)}
              </th>
              <td className="number">{numbers.fixed(meanSigmaPx, 3)}</td>
              <td className="number">{numbers.fixed(worstSigmaPx, 3)}</td>
              <td className="number">{numbers.fixed(rangeM === null ? 0 : (parallax.get(rangeM) ?? 0), 2)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

function Comparison({ bench }: { bench: BenchAnswer }) {
  const { t, told, numbers } = useWords();
  const { comparison } = bench;
  return (
    <section>
      <h2>{t('bench.compare')}</h2>
      {comparison === null ? (
        <p className="soft">{t('bench.compareNone')}</p>
      ) : comparison.kind === 'refused' ? (
        <p>{t('bench.compareRefused', { because: told(comparison.because) })}</p>
      ) : (
        <>
          <p>{t(comparison.moved ? 'bench.moved' : 'bench.notMoved', { p: numbers.fixed(comparison.pValue, 3) })}</p>
          <table className="plain">
            <thead>
              <tr>
                {(['rangeM', 'change', 'worst', 'expected'] as const).map((word) => (
                  <th key={word} scope="col" className="number">
                    {t(`bench.${word}`)}
                  </th>
                ))}
              </tr>
            </thead>
            <tbody>
              {comparison.at.map(({ rangeM, rmsPx, worstPx, expectedRmsPx }) => (
                <tr key={String(rangeM)}>
                  <th scope="row" className="number">
                    {rangeM === null ? t('bench.infinite') : numbers.fixed(rangeM, 0)}
                  </th>
                  {[rmsPx, worstPx, expectedRmsPx].map((px, i) => (
                    // biome-ignore lint/suspicious/noArrayIndexKey: three columns that never change places
                    <td key={i} className="number">
                      {numbers.fixed(px, 3)}
                    </td>
                  ))}
                </tr>
              ))}
            </tbody>
          </table>
        </>
      )}
    </section>
  );
}

function Open({ bench }: { bench: BenchAnswer }) {
  const { t, told, numbers } = useWords();
  return (
    <section>
      <h2>{t('bench.weaknesses')}</h2>
      {bench.weaknesses.length === 0 ? (
        <p className="soft">{t('bench.noWeaknesses')}</p>
      ) : (
        <ul>
          {bench.weaknesses.map(({ what, record }) => (
            <li key={what}>
              {told(what)} <span className="soft">{told(record)}</span>
            </li>
          ))}
        </ul>
      )}
      <h2>{t('bench.sweeps')}</h2>
      <ul>
        {bench.bySweep.map(({ name, heldOutRmsPx, correspondences }) => (
          <li key={name}>
            {name}: {numbers.fixed(heldOutRmsPx, 3)} px, {correspondences}
          </li>
        ))}
      </ul>
      {bench.outliers.length > 0 && (
        <>
          <h2>{t('bench.outliers')}</h2>
          <ul>
            {bench.outliers.slice(0, 30).map((one) => (
              <li key={`${one.frame} ${one.mark} ${one.camera}`}>
                {t('bench.outlier', {
                  frame: one.frame,
                  mark: one.mark,
                  camera: told(one.camera),
                  px: numbers.fixed(one.residualPx, 1),
                  sigmas: numbers.fixed(one.sigmas, 0),
                })}
              </li>
            ))}
          </ul>
        </>
      )}
      {bench.leftOut.length > 0 && (
        <>
          <h2>{t('bench.leftOut')}</h2>
          <ul>
            {bench.leftOut.map(({ because, frames }) => (
              <li key={because}>
                {frames}: {told(because)}
              </li>
            ))}
          </ul>
        </>
      )}
    </section>
  );
}
