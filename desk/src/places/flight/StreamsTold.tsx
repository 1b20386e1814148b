import type { StreamsAnswer } from '../../../../src/server/api/flights.ts';
import { useWords } from '../../words/useWords.ts';

const STREAMS = ['uv', 'colour', 'trajectory'] as const;
/** A gap is shown with so much of the stream on either side. */
const AROUND_S = 1;

/** What the charts show, in words and figures. */
export function StreamsTold({ data, onLook }: { data: StreamsAnswer; onLook: (fromS: number, toS: number) => void }) {
  const { t, told, numbers } = useWords();
  const gaps = STREAMS.flatMap((stream) => data.health[stream].gaps.map((gap) => ({ stream, ...gap }))).slice(0, 50);
  const there = (fromNs: number, toNs: number) => (
    <button type="button" className="plain" onClick={() => onLook(fromNs / 1e9 - AROUND_S, toNs / 1e9 + AROUND_S)}>
      {t('flight.lookThere')}
    </button>
  );
  return (
    <div className="told">
      <section>
        <h2>{t('flight.health')}</h2>
        <table className="plain">
          <thead>
            <tr>
              {(['stream', 'rows', 'rate', 'missing', 'jitter'] as const).map((word) => (
                <th key={word} scope="col" className={word === 'stream' ? '' : 'number'}>
                  {t(`flight.${word}`)}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {STREAMS.map((stream) => {
              const { frames, measuredHz, framesMissing, jitterNs } = data.health[stream];
              return (
                <tr key={stream}>
                  <th scope="row">{t(`flight.${stream}`)}</th>
                  <td className="number">{frames}</td>
                  <td className="number">{numbers.fixed(measuredHz, 3)}</td>
                  <td className="number">{framesMissing}</td>
                  <td className="number">{numbers.fixed(jitterNs / 1e6, 3)}</td>
                </tr>
              );
            })}
          </tbody>
        </table>
      </section>
      <section>
        <h2>{t('flight.gaps')}</h2>
        {gaps.length === 0 ? (
          <p className="soft">{t('flight.noGaps')}</p>
        ) : (
          <ul>
            {gaps.map(({ stream, afterFrame, framesMissing, fromNs, toNs }) => (
              <li key={`${stream} ${afterFrame}`}>
                {t('flight.gap', {
                  stream: t(`flight.${stream}`),
                  missing: framesMissing,
                  row: afterFrame,
                  length: numbers.fixed((toNs - fromNs) / 1e9, 3),
                })}{' '}
                {there(fromNs, toNs)}
              </li>
            ))}
          </ul>
        )}
      </section>
      <section>
        <h2>{t('flight.findings')}</h2>
        {data.findings.length === 0 ? (
          <p className="soft">{t('flight.noFindings')}</p>
        ) : (
          <ul>
            {data.findings.slice(0, 50).map((one) => (
              <li key={`${one.kind} ${one.fromNs}`}>
                <strong>{t(`flight.${one.weight}`)}</strong> {told(one.kind)}: {told(one.text)}{' '}
                {there(one.fromNs, one.toNs)}
              </li>
            ))}
          </ul>
        )}
      </section>
      <section>
        <h2>{t('flight.fates')}</h2>
        {data.fates === null ? (
          <p className="soft">{t('flight.allKept')}</p>
        ) : (
          <table className="plain">
            <thead>
              <tr>
                <th scope="col">{t('flight.stream')}</th>
                <th scope="col">{t('flight.fate')}</th>
                <th scope="col" className="number">
                  {t('flight.frames')}
                </th>
              </tr>
            </thead>
            <tbody>
              {(['uv', 'colour'] as const).flatMap((stream) =>
                Object.entries(data.fates![stream]).map(([fate, frames]) => (
                  <tr key={`${stream} ${fate}`}>
                    <th scope="row">{t(`flight.${stream}`)}</th>
                    <td>{told(fate)}</td>
                    <td className="number">{frames}</td>
                  </tr>
                )),
              )}
            </tbody>
          </table>
        )}
      </section>
      {data.notes.length > 0 && (
        <section>
          <h2>{t('flight.notes')}</h2>
          <ul>
            {data.notes.slice(0, 100).map(({ tNs, text }) => (
              <li key={`${tNs} ${text}`}>
                {tNs !== null && <span className="soft figure">{numbers.fixed(tNs / 1e9, 2)} s </span>}
                {told(text)}
              </li>
            ))}
          </ul>
        </section>
      )}
    </div>
  );
}
