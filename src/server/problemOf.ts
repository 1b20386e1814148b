import { InputError } from '../input/InputError.ts';
import type { Problem } from './api/problem.ts';

/** What a route throws where the answer is a problem and not a fault of ours. */
export class HttpProblem extends Error {
  readonly problem: Problem;

  constructor(problem: Problem) {
    super(problem.detail ?? problem.title);
    this.name = 'HttpProblem';
    this.problem = problem;
  }
}

export const notFound = (what: string, todo?: string): HttpProblem =>
  new HttpProblem({
    type: 'not-found',
    title: 'Not found',
    status: 404,
    detail: what,
    ...(todo === undefined ? {} : { todo }),
  });

/**
 * An error as a problem (RFC 9457). Faults in the input keep their fields; of our own faults the client learns that there was
 * one, and the log the rest.
 */
export function problemOf(error: unknown): Problem {
  if (error instanceof HttpProblem) return error.problem;
  if (error instanceof InputError)
    return { type: 'bad-input', title: 'Bad input', status: 422, detail: error.message, ...error.fault };
  const { statusCode, message, validation } = error as {
    statusCode?: number;
    message: string;
    validation?: readonly { instancePath?: string; message?: string }[];
  };
  if (validation !== undefined) {
    const [first] = validation;
    const field = first?.instancePath?.replace(/^\//, '').replaceAll('/', '.') ?? '';
    return {
      type: 'bad-request',
      title: 'The request is not as it should be',
      status: 400,
      detail: message,
      ...(field === '' ? {} : { field }),
      ...(first?.message === undefined ? {} : { expected: first.message }),
      todo: 'See /api/openapi.json.',
    };
  }
  if (statusCode !== undefined && statusCode >= 400 && statusCode < 500)
    return { type: 'bad-request', title: 'The request was refused', status: statusCode, detail: message };
  return {
    type: 'fault',
    title: 'A fault in Corposant',
    status: 500,
    detail: 'The text of it is where the command was started.',
  };
}
