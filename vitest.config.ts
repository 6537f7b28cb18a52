import { defineConfig } from 'vitest/config';
import { testsWithoutTools, toolPackages } from './test/support/tools.js';

/** Tests that compare with an independent program are left out where it is missing, and said so by name. */
const without = testsWithoutTools();
for (const [test, tools] of without) {
  const packages = [...new Set(tools.map((tool) => toolPackages[tool]))].join(' ');
  process.stderr.write(`NOT RUN: test/${test}, for want of ${tools.join(', ')} (Debian: ${packages})\n`);
}
if (without.size > 0 && process.env.CI)
  throw new Error('independent programs are missing: see the lines above');

export default defineConfig({
  test: {
    environment: 'node',
    include: ['test/**/*.test.ts'],
    exclude: ['test/long/**', ...[...without.keys()].map((test) => `test/${test}`)],
    testTimeout: 60_000,
    hookTimeout: 60_000,
    pool: 'forks',
    maxWorkers: 2,
  },
});
