export { probeBytes, probeWords } from './probe';
export { scanBytes, scanWords } from './scan';
export { foldBytes, foldWords } from './fold';
export { learnBytes, learnWords } from './learn';
export { settleBytes, settleWords } from './settle';
export { remapGrey, remapRgb, remapRgba } from './remap';
