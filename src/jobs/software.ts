import { readFileSync } from 'node:fs';

const { version } = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8')) as {
  version: string;
};

/** Name and version, as written into every derived record. */
export const SOFTWARE = `corposant ${version}`;
