import { defineConfig } from 'vitest/config';

/** Tests that take minutes: run before a release, and by the continuous integration. */
export default defineConfig({
  test: {
    environment: 'node',
    include: ['test/long/**/*.test.ts'],
    testTimeout: 600_000,
    hookTimeout: 600_000,
    pool: 'forks',
    maxWorkers: 2,
    passWithNoTests: true,
  },
});
