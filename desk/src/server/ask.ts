import { connectionLost, connectionMade } from './connection.ts';
import { ProblemError, problemOf } from './Problem.ts';

/** Asks the server; any answer but a good one is a `ProblemError`. Paths start with `/api/`. */
export async function ask(path: string, init: RequestInit = {}): Promise<Response> {
  let answer: Response;
  try {
    answer = await fetch(path, { credentials: 'same-origin', ...init });
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') throw error;
    connectionLost();
    throw new ProblemError({ kind: 'offline', status: 0, title: 'offline', detail: '', body: {} });
  }
  connectionMade();
  if (!answer.ok) throw new ProblemError(await problemOf(answer));
  return answer;
}

export const askJson = async <T>(path: string, init?: RequestInit): Promise<T> =>
  (await ask(path, init)).json() as Promise<T>;

export const askBytes = async (path: string, init?: RequestInit): Promise<ArrayBuffer> =>
  (await ask(path, init)).arrayBuffer();

export const sendJson = async <T>(path: string, body: unknown, method = 'POST'): Promise<T> =>
  askJson<T>(path, { method, headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
