import { mkdirSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const root = join(import.meta.dirname, '../..');

/** The code of the README in a language, fence by fence. */
export const readmeCode = (language: string): string[] =>
  [...readFileSync(join(root, 'README.md'), 'utf8').matchAll(/^```(\w+)\n([\s\S]*?)^```$/gm)]
    .filter(([, name]) => name === language)
    .map(([, , code]) => code as string);

/** A program of somebody else: a folder with the package among its modules, found through its `exports`. */
export class Consumer {
  readonly folder = mkdtempSync(join(tmpdir(), 'flashworthy-consumer-'));

  constructor() {
    mkdirSync(join(this.folder, 'node_modules'));
    symlinkSync(root, join(this.folder, 'node_modules', 'flashworthy'), 'dir');
    writeFileSync(join(this.folder, 'package.json'), '{ "type": "module" }\n');
  }

  /** Writes a file and gives its path. */
  write(name: string, text: string): string {
    const path = join(this.folder, name);
    writeFileSync(path, text);
    return path;
  }

  remove(): void {
    rmSync(this.folder, { recursive: true, force: true });
  }
}
