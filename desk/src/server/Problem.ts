/** What went wrong, as the server says it (RFC 9457), or that it does not answer at all. */
export interface Problem {
  readonly kind: 'offline' | 'token' | 'refused';
  readonly status: number;
  readonly title: string;
  readonly detail: string;
  readonly file?: string;
  readonly row?: number;
  readonly field?: string;
  readonly found?: string;
  readonly expected?: string;
  readonly todo?: string;
  /** Whatever else the answer held, such as the newer state in a conflict. */
  readonly body: Readonly<Record<string, unknown>>;
}

export class ProblemError extends Error {
  readonly problem: Problem;
  constructor(problem: Problem) {
    super(problem.detail || problem.title);
    this.name = 'ProblemError';
    this.problem = problem;
  }
}

export async function problemOf(answer: Response): Promise<Problem> {
  let body: Record<string, unknown> = {};
  try {
    body = (await answer.json()) as Record<string, unknown>;
  } catch {
    // Not every failure speaks JSON; the status line then has to do.
  }
  const text = (key: string): string | undefined => (body[key] === undefined ? undefined : String(body[key]));
  const row = body.row;
  return {
    kind: answer.status === 401 ? 'token' : 'refused',
    status: answer.status,
    title: text('title') ?? `${answer.status} ${answer.statusText}`,
    detail: text('detail') ?? '',
    file: text('file'),
    row: typeof row === 'number' ? row : undefined,
    field: text('field'),
    found: text('found'),
    expected: text('expected'),
    todo: text('todo'),
    body,
  };
}
