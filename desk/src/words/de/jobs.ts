import type { Words } from '../Words.ts';

export const jobs: Words['jobs'] = {
  title: 'Arbeiten',
};
