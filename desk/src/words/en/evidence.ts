export const evidence = { title: 'evidence' };
