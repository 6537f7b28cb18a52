import { copyFileSync, mkdirSync } from 'node:fs';
import { dirname, join, relative } from 'node:path';
import ts from 'typescript';

/**
 * Writes the declarations of the two libraries into `dist/types`: for publishing only, since it takes longer than the
 * rest of the build together. Ends with exit code 1 when something does not type-check.
 */
export async function run(root: string): Promise<void> {
  const file = join(root, 'tsconfig.json');
  const { config } = ts.readConfigFile(file, ts.sys.readFile);
  const { options } = ts.parseJsonConfigFileContent(config, ts.sys, root);
  const program = ts.createProgram({
    rootNames: ['core', 'node'].map((name) => join(root, 'src', name, 'index.ts')),
    options: {
      ...options,
      noEmit: false,
      declaration: true,
      emitDeclarationOnly: true,
      rootDir: join(root, 'src'),
      outDir: join(root, 'dist', 'types'),
    },
  });
  const { diagnostics } = program.emit();
  // Declarations that are written by hand are only read by the compiler, and others refer to them.
  for (const { isDeclarationFile, fileName } of program.getSourceFiles()) {
    const path = relative(join(root, 'src'), fileName);
    if (!isDeclarationFile || path.startsWith('..')) continue;
    const copy = join(root, 'dist', 'types', path);
    mkdirSync(dirname(copy), { recursive: true });
    copyFileSync(fileName, copy);
  }
  const all = [...ts.getPreEmitDiagnostics(program), ...diagnostics];
  if (all.length === 0) return;
  const host = {
    getCanonicalFileName: (name: string) => name,
    getCurrentDirectory: () => root,
    getNewLine: () => '\n',
  };
  process.stderr.write(ts.formatDiagnostics(all, host));
  process.exitCode = 1;
}
