import type { Words } from '../Words.ts';

export const plan: Words['plan'] = {
  title: 'Planung',
};
