import { join } from 'node:path';
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
