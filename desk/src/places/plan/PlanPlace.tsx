import './plan.css';
import { useEffect, useState } from 'react';
import type { PlanAnswer, PlanRequest } from '../../../../src/server/api/plan.ts';
import type { LineAnswer } from '../../server/answers.ts';
import { sendJson } from '../../server/ask.ts';
import { type Problem, ProblemError } from '../../server/Problem.ts';
import { useResource } from '../../server/resource.ts';
import { LoadingNotice } from '../../shell/Notice.tsx';
import { ProblemNotice } from '../../shell/ProblemNotice.tsx';
import { useWords } from '../../words/useWords.ts';
import { BudgetDrawing, PassesDrawing, SectionDrawing } from './PlanDrawings.tsx';

type Planned = Extract<PlanAnswer, { kind: 'planned' }>;

const WISHES = {
  standoffM: { word: 'standoff', least: 5, most: 120, step: 1, unit: 'm', start: 40 },
  speedMps: { word: 'speed', least: 1, most: 40, step: 0.5, unit: 'm/s', start: 15 },
  frameRateHz: { word: 'rate', least: 5, most: 200, step: 5, unit: '1/s', start: 50 },
  exposureMs: { word: 'exposure', least: 0.5, most: 40, step: 0.5, unit: 'ms', start: 18 },
  turnDegps: { word: 'turn', least: 0, most: 30, step: 0.5, unit: '°/s', start: 5 },
  positionSigmaM: { word: 'position', least: 0.01, most: 3, step: 0.01, unit: 'm', start: 0.03 },
  headingSigmaDeg: { word: 'heading', least: 0.01, most: 2, step: 0.01, unit: '°', start: 0.03 },
  backgroundPerFrame: { word: 'background', least: 0.5, most: 100, step: 0.5, unit: '', start: 5 },
} as const;
type Wish = keyof typeof WISHES;
type Wishes = Record<Wish, number>;
const KEYS = Object.keys(WISHES) as Wish[];
const START = Object.fromEntries(KEYS.map((key) => [key, WISHES[key].start])) as Wishes;

/** A slider asks when it has rested this long. */
const REST_MS = 80;

const requestOf = (
  { standoffM, speedMps, exposureMs, frameRateHz, ...rest }: Wishes,
  more: Partial<PlanRequest>,
): PlanRequest => ({
  ...rest,
  frameRateHz,
  // No exposure is longer than the time from frame to frame.
  exposureMs: Math.min(exposureMs, 1000 / frameRateHz),
  standoffsM: [standoffM],
  speedsMps: [speedMps],
  ...more,
});

export default function PlanPlace() {
  const { t, told, numbers } = useWords();
  const [wishes, setWishes] = useState<Wishes>(START);
  const [acknowledged, setAcknowledged] = useState(false);
  const [answer, setAnswer] = useState<PlanAnswer | null>(null);
  const [passes, setPasses] = useState<Planned['passes'] | 'making' | null>(null);
  const [problem, setProblem] = useState<Problem | null>(null);
  const line = useResource<LineAnswer>('/api/line');

  useEffect(() => {
    const stop = new AbortController();
    setPasses(null);
    const timer = setTimeout(async () => {
      try {
        const body = requestOf(wishes, { acknowledgeApproach: acknowledged, withPasses: false });
        const given = await sendJson<PlanAnswer>('/api/plan', body);
        if (stop.signal.aborted) return;
        setAnswer(given);
        setProblem(null);
      } catch (error) {
        if (!(error instanceof ProblemError)) throw error;
        if (!stop.signal.aborted) setProblem(error.problem);
      }
    }, REST_MS);
    return () => {
      stop.abort();
      clearTimeout(timer);
    };
  }, [wishes, acknowledged]);

  const makePasses = async (): Promise<void> => {
    setPasses('making');
    try {
      const given = await sendJson<PlanAnswer>('/api/plan', requestOf(wishes, { acknowledgeApproach: acknowledged }));
      setPasses(given.kind === 'planned' ? given.passes : null);
    } catch (error) {
      if (!(error instanceof ProblemError)) throw error;
      setPasses(null);
      setProblem(error.problem);
    }
  };

  return (
    <div className="plan-place">
      <h1>{t('plan.title')}</h1>
      <div className="wishes">
        {KEYS.map((key) => {
          const { word, least, most, step, unit } = WISHES[key];
          return (
            <label className="field" key={key}>
              <span>
                {t(`plan.${word}`)}:{' '}
                <strong className="figure">{`${numbers.fixed(wishes[key], step < 0.1 ? 2 : step < 1 ? 1 : 0)} ${unit}`}</strong>
              </span>
              <input
                type="range"
                min={least}
                max={most}
                step={step}
                value={wishes[key]}
                onChange={(event) => setWishes({ ...wishes, [key]: Number(event.target.value) })}
              />
            </label>
          );
        })}
        <label className="tick">
          <input type="checkbox" checked={acknowledged} onChange={(event) => setAcknowledged(event.target.checked)} />
          {t('plan.acknowledge')}
        </label>
      </div>
      <div className="answers">
        {problem ? (
          <ProblemNotice problem={problem} onAgain={() => setWishes({ ...wishes })} />
        ) : answer === null ? (
          <LoadingNotice what={t('plan.what')} />
        ) : answer.kind === 'refused' ? (
          <p role="status">{t('plan.refused', { because: told(answer.because) })}</p>
        ) : (
          <>
            <Figures plan={answer} />
            <section>
              <h2>{t('plan.budget')}</h2>
              <BudgetDrawing row={answer.rows[0]} />
            </section>
            <section>
              <h2>{t('plan.side')}</h2>
              <SectionDrawing row={answer.rows[0]} depthM={answer.depthM} />
            </section>
            <section>
              <h2>{t('plan.passes')}</h2>
              {passes === 'making' ? (
                <p role="status">{t('plan.passesMaking')}</p>
              ) : passes === null ? (
                <div>
                  <button type="button" onClick={() => void makePasses()}>
                    {t('plan.passesMake')}
                  </button>
                </div>
              ) : passes.kind === 'refused' ? (
                <p>{t('plan.passesRefused', { because: told(passes.because) })}</p>
              ) : (
                line.state === 'ready' && <PassesDrawing line={line.data} passes={passes} />
              )}
            </section>
          </>
        )}
        {answer && answer.approach.length > 0 && (
          <section>
            <h2>{t('plan.caution')}</h2>
            <ul>
              {answer.approach.map(({ publication, meaning, distanceM }) => (
                <li key={publication + meaning}>
                  <strong className="figure">{numbers.fixed(distanceM, 2)} m</strong> {publication}: {told(meaning)}
                </li>
              ))}
            </ul>
            <p>{told(answer.caution)}</p>
          </section>
        )}
        {answer?.kind === 'planned' && (
          <section>
            {answer.warnings.length > 0 && (
              <>
                <h2>{t('plan.warnings')}</h2>
                <ul>
                  {answer.warnings.map((text) => (
                    <li key={text}>{told(text)}</li>
                  ))}
                </ul>
              </>
            )}
            <h2>{t('plan.assumed')}</h2>
            <ul className="soft">
              {answer.assumed.map((text) => (
                <li key={text}>{told(text)}</li>
              ))}
            </ul>
          </section>
        )}
      </div>
    </div>
  );
}

function Figures({ plan }: { plan: Planned }) {
  const { t, told, numbers } = useWords();
  const [row] = plan.rows;
  const mm = (m: number): string => numbers.fixed(1000 * m, 1);
  const position = (one: typeof row.onePass): string =>
    one.kind === 'refused'
      ? told(one.because)
      : t('plan.sigma', {
          across: numbers.fixed(one.sigma.acrossM, 3),
          along: numbers.fixed(one.sigma.alongM, 3),
          up: numbers.fixed(one.sigma.upM, 3),
        });
  const pairs: [string, string][] = [
    [t('plan.sampling'), t('plan.samplingValue', { uv: mm(row.uvSamplingM), colour: mm(row.colourSamplingM) })],
    [
      t('plan.swath'),
      t('plan.swathValue', { along: numbers.fixed(row.uvSwathM.alongM, 1), up: numbers.fixed(row.uvSwathM.upM, 1) }),
    ],
    [
      t('plan.smear'),
      t('plan.smearValue', {
        uv: numbers.fixed(row.uvSmearPx, 1),
        turn: numbers.fixed(row.uvSmearByTurnPx, 1),
        colour: numbers.fixed(row.colourSmearPx, 1),
      }),
    ],
    [
      t('plan.parallax'),
      t('plan.parallaxValue', {
        at: numbers.fixed(row.parallaxAtStandoffPx, 1),
        over: numbers.fixed(row.parallaxOverDepthPx, 1),
      }),
    ],
    [t('plan.needed'), `± ${numbers.fixed(row.rangeNeededM, 2)} m`],
    [t('plan.frames'), numbers.fixed(row.framesInView, 0)],
    [t('plan.limit'), row.limitHz === null ? t('plan.limitNone') : numbers.limit(row.limitHz)],
    [t('plan.onePass'), position(row.onePass)],
    [t('plan.bothSides'), position(row.bothSides)],
  ];
  return (
    <section>
      <h2>{t('plan.figures')}</h2>
      <dl className="pairs">
        {pairs.map(([word, value]) => (
          <div key={word} style={{ display: 'contents' }}>
            <dt>{word}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
    </section>
  );
}
