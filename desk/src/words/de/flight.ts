import type { Words } from '../Words.ts';

export const flight: Words['flight'] = {
  title: 'Flug',
};
