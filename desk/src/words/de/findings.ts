import type { Words } from '../Words.ts';

export const findings: Words['findings'] = { title: 'findings' };
