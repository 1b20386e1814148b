import { type ChildProcess, spawn } from 'node:child_process';
import { randomBytes } from 'node:crypto';
import { mkdirSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Job, JobRequest } from './api/jobs.ts';
import { HttpProblem, notFound } from './problemOf.ts';

/** What a job is, kept beside the campaign so that it can go on after the server or the machine stopped. */
interface KeptJob {
  readonly job: Job;
  readonly request: JobRequest;
}

export interface JobRunnerOptions {
  /** Program and first arguments that run the command itself. */
  readonly command: readonly string[];
  /** Folder in which jobs are kept. */
  readonly folder: string;
  /** Words of the command line that does what is asked. @throws HttpProblem where something it needs is not at hand */
  wordsOf(request: JobRequest): { readonly words: readonly string[]; readonly subject: string };
  tell(job: Job): void;
  nowUtc(): string;
}

const FINISHED: readonly Job['state'][] = ['done', 'failed', 'cancelled', 'interrupted'];
/** What a child writes beyond this is a fault of its own; its end says what went wrong. */
const MOST_TEXT = 8_000_000;
/** A job that was asked to stop and does not come to a safe place is ended: what it had kept until then stays. */
const PATIENCE_MS = 20_000;

/**
 * Runs the command in a process of its own, one job at a time: the server goes on answering, a job that fails takes nothing with it, and
 * what it does is exactly what the command does. Progress comes over the channel between the two processes.
 */
export class JobRunner {
  private readonly options: JobRunnerOptions;
  private readonly kept = new Map<string, KeptJob>();
  private running: { readonly id: string; readonly child: ChildProcess; cancelled: boolean } | null = null;
  private closing = false;

  constructor(options: JobRunnerOptions) {
    this.options = options;
    for (const { job, request } of readKept(options.folder)) {
      const wasOn = job.state === 'running' || job.state === 'waiting';
      const state = wasOn ? 'interrupted' : job.state;
      this.kept.set(job.id, {
        request,
        job: { ...job, state, canResume: wasOn || job.canResume, endedUtc: job.endedUtc },
      });
    }
  }

  list(): Job[] {
    return [...this.kept.values()].map(({ job }) => job).sort((a, b) => (a.createdUtc < b.createdUtc ? 1 : -1));
  }

  get(id: string): Job {
    return this.find(id).job;
  }

  start(request: JobRequest): Job {
    const { words, subject } = this.options.wordsOf(request);
    const job: Job = {
      id: randomBytes(6).toString('hex'),
      kind: request.kind,
      subject,
      state: 'waiting',
      command: ['corposant', ...words].map(quoted).join(' '),
      createdUtc: this.options.nowUtc(),
      startedUtc: null,
      endedUtc: null,
      progress: null,
      notes: [],
      canResume: false,
      verdictNegative: null,
      result: null,
      problem: null,
    };
    this.keep({ job, request });
    this.next();
    return this.get(job.id);
  }

  /** Runs a job again that did not come to its end; it goes on from what it had kept. */
  resume(id: string): Job {
    const { job, request } = this.find(id);
    if (!job.canResume)
      throw new HttpProblem({
        type: 'conflict',
        title: 'Nothing to go on with',
        status: 409,
        detail: `The job is ${job.state}.`,
      });
    this.keep({
      request,
      job: { ...job, state: 'waiting', endedUtc: null, canResume: false, problem: null, result: null },
    });
    this.next();
    return this.get(id);
  }

  /** Stops a job where it can go on later; forgets one that has ended. */
  cancel(id: string): Job {
    const { job, request } = this.find(id);
    if (this.running?.id === id) {
      this.running.cancelled = true;
      stop(this.running.child);
    } else if (FINISHED.includes(job.state)) {
      this.kept.delete(id);
      rmSync(join(this.options.folder, `${id}.json`), { force: true });
    } else
      this.keep({ request, job: { ...job, state: 'cancelled', endedUtc: this.options.nowUtc(), canResume: true } });
    return this.kept.get(id)?.job ?? job;
  }

  /** Stops what runs, where it can go on later. */
  async close(): Promise<void> {
    this.closing = true;
    const { running } = this;
    if (running === null) return;
    const ended = new Promise((resolve) => running.child.once('close', resolve));
    stop(running.child);
    await ended;
  }

  private find(id: string): KeptJob {
    const kept = this.kept.get(id);
    if (kept === undefined) throw notFound(`There is no job '${id}'.`);
    return kept;
  }

  private keep(kept: KeptJob, onDisk = true): void {
    this.kept.set(kept.job.id, kept);
    if (onDisk) {
      mkdirSync(this.options.folder, { recursive: true });
      const file = join(this.options.folder, `${kept.job.id}.json`);
      writeFileSync(`${file}.part`, JSON.stringify(kept));
      renameSync(`${file}.part`, file);
    }
    this.options.tell(kept.job);
  }

  private next(): void {
    if (this.running !== null || this.closing) return;
    const waiting = this.list().filter(({ state }) => state === 'waiting');
    const job = waiting[waiting.length - 1];
    if (job !== undefined) this.run(job.id);
  }

  private run(id: string): void {
    const { job, request } = this.find(id);
    const [program, ...first] = this.options.command;
    const { words } = this.options.wordsOf(request);
    const child = spawn(program, [...first, ...words, '--json'], { stdio: ['ignore', 'pipe', 'pipe', 'ipc'] });
    this.running = { id, child, cancelled: false };
    this.keep({
      request,
      job: { ...job, state: 'running', startedUtc: this.options.nowUtc(), progress: null, notes: [] },
    });
    const said = { out: '', err: '' };
    for (const [stream, name] of [
      [child.stdout!, 'out'],
      [child.stderr!, 'err'],
    ] as const)
      stream.setEncoding('utf8').on('data', (part: string) => {
        if (said[name].length < MOST_TEXT) said[name] += part;
      });
    let step = { name: '', fromMs: 0, fromDone: 0 };
    child.on('message', (message) => {
      const now = this.find(id);
      const { progress, note } = message as { progress?: Progress; note?: string };
      if (progress !== undefined) {
        const nowMs = performance.now();
        if (progress.step !== step.name) step = { name: progress.step, fromMs: nowMs, fromDone: progress.done };
        const seconds = (nowMs - step.fromMs) / 1000;
        const perS = seconds > 0.5 ? (progress.done - step.fromDone) / seconds : null;
        const leftS = perS !== null && perS > 0 ? (progress.total - progress.done) / perS : null;
        this.keep({ request, job: { ...now.job, progress: { ...progress, perS, leftS } } }, false);
      }
      if (note !== undefined)
        this.keep({ request, job: { ...now.job, notes: [...now.job.notes, note].slice(-200) } }, false);
    });
    child.on('error', (error) => {
      said.err += error.message;
    });
    child.on('close', (code) => {
      const cancelled = this.running?.cancelled === true;
      this.running = null;
      this.keep({
        request,
        job: { ...this.find(id).job, ...endOf(code, cancelled, said), endedUtc: this.options.nowUtc() },
      });
      this.next();
    });
  }
}

interface Progress {
  readonly step: string;
  readonly done: number;
  readonly total: number;
  readonly unit: string;
}

/** Exit codes as docs/command.md has them. */
function endOf(
  code: number | null,
  cancelled: boolean,
  { out, err }: { out: string; err: string },
): Pick<Job, 'state' | 'canResume' | 'verdictNegative' | 'result' | 'problem'> {
  const result = parsed(out);
  if (code === 0 || code === 1)
    return { state: 'done', canResume: false, verdictNegative: code === 1, result, problem: null };
  if (cancelled || code === 130)
    return {
      state: cancelled ? 'cancelled' : 'interrupted',
      canResume: true,
      verdictNegative: null,
      result: null,
      problem: null,
    };
  const fault = (result as { error?: Record<string, string> } | null)?.error;
  return {
    state: 'failed',
    canResume: true,
    verdictNegative: null,
    result: null,
    problem: {
      title: err.trim().split('\n').slice(0, 3).join(' ') || `The command ended with ${code}.`,
      ...(fault === undefined
        ? {}
        : { file: fault.file, found: fault.found, expected: fault.expected, todo: fault.todo }),
    },
  };
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

function stop(child: ChildProcess): void {
  if (child.connected) child.send({ stop: true });
  else child.kill('SIGTERM');
  setTimeout(() => child.kill('SIGKILL'), PATIENCE_MS).unref();
}

function readKept(folder: string): KeptJob[] {
  let names: string[];
  try {
    names = readdirSync(folder).filter((name) => /^[0-9a-f]{12}\.json$/.test(name));
  } catch {
    return [];
  }
  return names.flatMap((name) => {
    const kept = parsed(readFileSync(join(folder, name), 'utf8')) as KeptJob | null;
    return kept?.job?.id === name.slice(0, 12) ? [kept] : [];
  });
}

const quoted = (word: string): string => (/^[\w./:@%+=-]+$/.test(word) ? word : `'${word.replaceAll("'", "'\\''")}'`);
