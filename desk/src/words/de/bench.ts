import type { Words } from '../Words.ts';

export const bench: Words['bench'] = {
  title: 'Messbank',
};
