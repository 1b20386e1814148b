import type { Words } from '../Words.ts';

export const evidence: Words['evidence'] = { title: 'evidence' };
