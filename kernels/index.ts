export { scanBytes, scanWords } from './scan';
export { foldBytes, foldWords } from './fold';
export { settleBytes, settleWords } from './settle';
export { remapGrey, remapRgb, remapRgba } from './remap';
