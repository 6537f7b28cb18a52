import { existsSync, readFileSync } from 'node:fs';
import { type Processor, type ProcessorTable, processorTable } from '../firmware/processors.js';
import type { RuleSet } from '../rules/rule.js';

/** The rules that come with the package, compiled. */
export const packagedRules = (): RuleSet => readPart('rules.json') as RuleSet;

/** The processors that come with the package. */
export const packagedProcessors = (): ProcessorTable =>
  processorTable(readPart('processors.json') as Processor[]);

/** The bundler may put this module into the folder `parts`, one below. */
function readPart(name: string): unknown {
  const here = new URL(name, import.meta.url);
  return JSON.parse(readFileSync(existsSync(here) ? here : new URL(`../${name}`, import.meta.url), 'utf8'));
}
