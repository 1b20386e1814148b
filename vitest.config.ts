import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['src/**/*.test.ts', 'desk/src/**/*.test.ts', 'tests/**/*.test.ts'],
    globalSetup: ['tests/clearInventedCampaign.ts'],
    testTimeout: 60_000,
    pool: 'forks',
  },
});
