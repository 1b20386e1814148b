export const findings = { title: 'findings' };
