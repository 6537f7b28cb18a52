import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { RuleFile } from '../rules/load.js';
import { sha256Hex } from './digests.js';

/**
 * Reads all YAML files of a folder of rules and of the folders in it, in the order of their names. Throws the
 * system's error when one cannot be read, a `TypeError` when one is not UTF-8.
 */
export function readRuleFiles(folder: string): Required<RuleFile>[] {
  const utf8 = new TextDecoder('utf-8', { fatal: true });
  return readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && /\.ya?ml$/.test(entry.name))
    .map((entry) => join(entry.parentPath, entry.name))
    .map((path) => ({ path, name: path.slice(join(folder, 'x').length - 1).replaceAll('\\', '/') }))
    .sort((a, b) => (a.name < b.name ? -1 : 1))
    .map(({ path, name }) => ({ name, text: utf8.decode(readFileSync(path)), shown: path }));
}

/** SHA-256 that identifies a set of rule files: over the lines that `sha256sum` prints for them, in order of name. */
export function ruleFilesSha256(files: readonly RuleFile[]): string {
  return sha256Hex(files.map(({ name, text }) => `${sha256Hex(text)}  ${name}\n`).join(''));
}
