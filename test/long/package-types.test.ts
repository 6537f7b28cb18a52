import { execFileSync, spawnSync } from 'node:child_process';
import { copyFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { Consumer, readmeCode } from '../support/consumer.js';

const root = join(import.meta.dirname, '../..');

let consumer: Consumer;
beforeAll(() => {
  // The declarations are made when the package is packed.
  execFileSync(process.execPath, [join(root, 'src/build/run.mjs'), 'types'], { stdio: 'ignore' });
  consumer = new Consumer();
});
afterAll(() => consumer.remove());

/** What the compiler says about programs that see nothing of the package but what is published. */
function compiled(...files: string[]): string {
  const options = ['--noEmit', '--strict', '--noUncheckedIndexedAccess', '--skipLibCheck', 'false'];
  const target = ['--target', 'es2023', '--module', 'nodenext', '--types', 'node'];
  const types = ['--typeRoots', join(root, 'node_modules/@types')];
  const { stdout } = spawnSync(
    process.execPath,
    [join(root, 'node_modules/typescript/bin/tsc'), ...options, ...target, ...types, ...files],
    { cwd: consumer.folder, encoding: 'utf8' },
  );
  return stdout;
}

it('compiles the README and the sample with the types that are published', () => {
  const parts = readmeCode('ts');
  expect(parts.length).toBeGreaterThan(0);
  const files = parts.map((part, index) => consumer.write(`readme-${index}.ts`, part));
  copyFileSync(join(root, 'samples/api/check-card.ts'), join(consumer.folder, 'sample.ts'));
  expect(compiled(...files, 'sample.ts')).toBe('');
  const wrong = consumer.write('wrong.ts', "import { inspect } from 'flashworthy';\ninspect(1);\n");
  expect(compiled(wrong)).toContain('wrong.ts(2,9)');
});
