import { COMPONENT_KINDS } from '../../../../src/line/LineModel.ts';
import { sentenceCase } from '../../../../src/report/componentLabel.ts';
import type { LineAnswer } from '../../server/answers.ts';
import { useWords } from '../../words/useWords.ts';

/** Components by kind and state; for the clear ones the worst limit, which is what "clear" is worth. */
export function CoverageTable({ line, inspected }: { line: LineAnswer; inspected: boolean }) {
  const { t, terms, numbers } = useWords();
  const all = [...line.components, ...line.conductors];
  const rows = COMPONENT_KINDS.map((kind) => {
    const own = all.filter((c) => c.kind === kind);
    const count = (state: string) => own.filter((c) => c.coverage.state === state).length;
    const limits = own.flatMap((c) =>
      c.coverage.state === 'clear' && c.coverage.limitHz !== null ? [c.coverage.limitHz] : [],
    );
    return {
      kind,
      all: own.length,
      finding: count('finding'),
      clear: count('clear'),
      notSeen: count('not seen'),
      worst: limits.length > 0 ? Math.max(...limits) : null,
    };
  }).filter((row) => row.all > 0);
  return (
    <section>
      <h2>{t('line.coverage')}</h2>
      <p className="small soft">{t(inspected ? 'line.coverageLead' : 'line.noFlight')}</p>
      <table className="plain coverage">
        <thead>
          <tr>
            <th scope="col">{t('line.colKind')}</th>
            <th scope="col" className="number">
              {t('line.colFinding')}
            </th>
            <th scope="col" className="number">
              {t('line.colClear')}
            </th>
            <th scope="col" className="number">
              {t('line.colNotSeen')}
            </th>
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={row.kind}>
              <th scope="row">
                {sentenceCase(terms.kinds[row.kind])}
                {row.worst !== null && (
                  <span className="small soft block">
                    {t('line.colLimit')} <span className="figure">{numbers.limit(row.worst)}</span>
                  </span>
                )}
              </th>
              <td className="number">{row.finding}</td>
              <td className="number">{row.clear}</td>
              <td className="number">{row.notSeen}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}
