import { expect, test } from 'vitest';
import { startedDesk } from './smallDesk.testdata.ts';

interface Operation {
  readonly summary?: string;
  readonly responses?: Record<string, { content?: Record<string, { schema?: object }> }>;
  readonly security?: readonly object[];
}

test('docs/openapi.json is what the server says of itself', async () => {
  const desk = await startedDesk();
  const said = (await (await fetch(new URL('/api/openapi.json', desk.origin))).json()) as {
    openapi: string;
    paths: Record<string, Record<string, Operation>>;
  };
  expect(said.openapi).toBe('3.1.0');
  const operations = Object.entries(said.paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, operation]) => ({ path, method, operation })),
  );
  for (const { path, method, operation } of operations) {
    expect([path, method, operation.summary]).toEqual([path, method, expect.stringMatching(/\w{3}/)]);
    // Whatever writes says that it needs the token.
    if (method !== 'get' && path !== '/api/session')
      expect([path, method, operation.security]).toEqual([path, method, [{ token: [] }]]);
  }
  // `npx vitest run src/server/openapi.test.ts --update` writes the file.
  await expect(`${JSON.stringify(said, null, 1)}\n`).toMatchFileSnapshot('../../docs/openapi.json');
});
