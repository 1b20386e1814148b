import './jobs.css';
import { type FormEvent, type ReactNode, useEffect, useState } from 'react';
import type { Job, JobRequest, JobsAnswer } from '../../../../src/server/api/jobs.ts';
import type { CampaignAnswer } from '../../server/answers.ts';
import { ask, sendJson } from '../../server/ask.ts';
import { type Problem, ProblemError } from '../../server/Problem.ts';
import { refresh, replace, useResource } from '../../server/resource.ts';
import { Loaded } from '../../shell/Loaded.tsx';
import { ProblemNotice } from '../../shell/ProblemNotice.tsx';
import { useWords } from '../../words/useWords.ts';

const JOBS = '/api/jobs';

/** Jobs as they move on, heard from the server. */
function useJobChanges(): void {
  useEffect(() => {
    const source = new EventSource('/api/changes');
    source.addEventListener('job', (event) => {
      const job = JSON.parse((event as MessageEvent<string>).data) as Job;
      replace<JobsAnswer>(JOBS, (data) => ({
        ...data,
        jobs: data.jobs.some(({ id }) => id === job.id)
          ? data.jobs.map((one) => (one.id === job.id ? job : one))
          : [job, ...data.jobs],
      }));
    });
    source.addEventListener('revision', () => refresh(JOBS));
    return () => source.close();
  }, []);
}

export default function JobsPlace() {
  const { t } = useWords();
  const jobs = useResource<JobsAnswer>(JOBS);
  const campaign = useResource<CampaignAnswer>('/api/campaign');
  useJobChanges();
  const [problem, setProblem] = useState<Problem | null>(null);
  const mayWrite = campaign.state !== 'ready' || campaign.data.mayWrite;
  const send = async (path: string, body: unknown, method = 'POST'): Promise<void> => {
    try {
      if (body === undefined) await ask(path, { method });
      else await sendJson(path, body, method);
      setProblem(null);
      refresh(JOBS);
    } catch (error) {
      if (!(error instanceof ProblemError)) throw error;
      setProblem(error.problem);
    }
  };
  return (
    <div className="jobs-place">
      <h1>{t('jobs.title')}</h1>
      {!mayWrite && <p>{t('jobs.readOnly')}</p>}
      {problem && <ProblemNotice problem={problem} onAgain={() => setProblem(null)} />}
      <Loaded of={jobs} what={t('jobs.what')}>
        {(data) => (
          <>
            <Starts data={data} mayWrite={mayWrite} start={(request) => send(JOBS, request)} />
            <section>
              <h2>{t('jobs.list')}</h2>
              {data.jobs.length === 0 ? (
                <p className="soft">{t('jobs.none')}</p>
              ) : (
                <ul>
                  {data.jobs.map((job) => (
                    <JobItem key={job.id} job={job} mayWrite={mayWrite} send={send} />
                  ))}
                </ul>
              )}
            </section>
          </>
        )}
      </Loaded>
    </div>
  );
}

function Starts({
  data,
  mayWrite,
  start,
}: {
  data: JobsAnswer;
  mayWrite: boolean;
  start: (request: JobRequest) => Promise<void>;
}) {
  const { t } = useWords();
  const flights = data.flights.length === 0 ? t('jobs.noFlights') : null;
  return (
    <div className="starts">
      <StartForm
        title={t('jobs.inspect')}
        names={data.flights}
        none={flights}
        mayWrite={mayWrite}
        start={(flight, form) =>
          start({
            kind: 'inspect',
            flight,
            falseAlarmsPerHour: Number(form.get('alarms')) || 1,
            again: form.get('again') === 'on',
          })
        }
      >
        <label className="field">
          {t('jobs.alarms')}
          <input name="alarms" type="number" min="0.01" max="1000" step="any" defaultValue="1" />
        </label>
        <label className="tick">
          <input name="again" type="checkbox" /> {t('jobs.again')}
        </label>
      </StartForm>
      <StartForm
        title={t('jobs.check')}
        names={data.flights}
        none={flights}
        mayWrite={mayWrite}
        start={(flight) => start({ kind: 'check', flight })}
      />
      <StartForm
        title={t('jobs.bench')}
        names={data.benches}
        none={data.benches.length === 0 ? t('jobs.noBenches') : null}
        mayWrite={mayWrite}
        start={(bench) => start({ kind: 'bench', bench })}
      />
      <StartForm
        title={t('jobs.report')}
        of={t('jobs.inLanguage')}
        names={['en', 'de']}
        label={(language) => t(language === 'en' ? 'jobs.english' : 'jobs.german')}
        none={null}
        mayWrite={mayWrite}
        start={(language) => start({ kind: 'report', language: language as 'en' | 'de' })}
      />
      <StartForm
        title={t('jobs.export')}
        of={t('jobs.as')}
        names={['folder', 'zip']}
        label={(as) => t(as === 'zip' ? 'jobs.zip' : 'jobs.folder')}
        none={null}
        mayWrite={mayWrite}
        start={(as) => start({ kind: 'export', as: as as 'folder' | 'zip' })}
      />
      <StartForm
        title={t('jobs.compare')}
        of={t('jobs.with')}
        names={data.earlierCampaigns}
        none={data.earlierCampaigns.length === 0 ? t('jobs.noEarlier') : null}
        mayWrite={mayWrite}
        start={(earlier) => start({ kind: 'compare', earlier })}
      />
    </div>
  );
}

function StartForm({
  title,
  of,
  names,
  label = (name) => name,
  none,
  mayWrite,
  start,
  children,
}: {
  title: string;
  /** The word between title and name; "of" where missing. */
  of?: string;
  names: readonly string[];
  label?: (name: string) => string;
  none: string | null;
  mayWrite: boolean;
  start: (name: string, form: FormData) => Promise<void>;
  children?: ReactNode;
}) {
  const { t } = useWords();
  const submit = (event: FormEvent<HTMLFormElement>): void => {
    event.preventDefault();
    const form = new FormData(event.currentTarget);
    void start(String(form.get('name')), form);
  };
  return (
    <section>
      <h2>{title}</h2>
      {none !== null ? (
        <p className="soft">{none}</p>
      ) : (
        <form onSubmit={submit} aria-label={title}>
          <label className="field">
            {of ?? t('jobs.subject')}
            <select name="name">
              {names.map((name) => (
                <option key={name} value={name}>
                  {label(name)}
                </option>
              ))}
            </select>
          </label>
          {children}
          <button type="submit" className="chief" disabled={!mayWrite}>
            {t('jobs.start')}
          </button>
        </form>
      )}
    </section>
  );
}

function JobItem({
  job,
  mayWrite,
  send,
}: {
  job: Job;
  mayWrite: boolean;
  send: (path: string, body: unknown, method?: string) => Promise<void>;
}) {
  const { t, numbers } = useWords();
  const { progress } = job;
  const isOn = job.state === 'running' || job.state === 'waiting';
  const state = job.state === 'done' && job.verdictNegative ? t('jobs.negative') : t(`jobs.${job.state}`);
  return (
    <li className="job">
      <div className="row">
        <h3>
          {t(`jobs.${job.kind}`)}: {job.subject}
        </h3>
        <span role="status">{state}</span>
        <span className="row keep-right">
          {job.canResume && (
            <button type="button" disabled={!mayWrite} onClick={() => void send(`${JOBS}/${job.id}/resume`, {})}>
              {t('jobs.resume')}
            </button>
          )}
          <button
            type="button"
            disabled={!mayWrite}
            onClick={() => void send(`${JOBS}/${job.id}`, undefined, 'DELETE')}
          >
            {t(isOn ? 'jobs.cancel' : 'jobs.forget')}
          </button>
        </span>
      </div>
      {isOn && progress && (
        <>
          <progress value={progress.done} max={progress.total} aria-label={progress.step} />
          <p className="soft small">
            {t('jobs.progress', {
              step: progress.step,
              done: progress.done,
              total: progress.total,
              unit: progress.unit,
            })}
            {progress.leftS !== null && `, ${t('jobs.left', { left: numbers.fixed(progress.leftS, 0) })}`}
          </p>
        </>
      )}
      {job.problem && (
        <p>
          {job.problem.title} {job.problem.todo}
        </p>
      )}
      {job.notes.length > 0 && <p className="soft small">{job.notes.join(' ')}</p>}
      <p className="small soft">
        {t('jobs.command')}: <code>{job.command}</code>
      </p>
      {job.result != null && (
        <details>
          <summary>{t('jobs.result')}</summary>
          {/* biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reached by the keyboard alone */}
          <pre tabIndex={0}>{JSON.stringify(job.result, null, 1).slice(0, 20_000)}</pre>
        </details>
      )}
    </li>
  );
}
