import { sizeText } from '../bytes/size-text.js';
import { factSchema } from '../facts/schema.js';
import type { RemedyText, Report, Stated } from './report.js';

const kindWords = {
  image: 'card image',
  device: 'card',
  folder: 'mounted card',
  staging: 'folder, no card',
} as const;

/** What was checked, in a few words: its kind, its size, and whether the computer's memory stood in between. */
export function targetText({ kind, bytes, view }: Report['target']): string {
  const size = bytes === null ? '' : `, ${sizeText(bytes)}`;
  return `${kindWords[kind]}${size}${view === 'cached' && kind !== 'staging' ? ", as the computer's memory shows it" : ''}`;
}

/** What the owner stated: of what is true or false, the statement itself. */
export function statedText({ fact, text }: Stated): string {
  const meaning = factSchema[fact]?.meaning ?? fact;
  const statement = meaning.replace(/^true when /, '');
  if (statement !== meaning && (text === 'true' || text === 'false'))
    return text === 'true' ? statement : `not so: ${statement}`;
  return `${meaning}: ${text}`;
}

/** Names of the systems that steps are for. */
export const systemWords: Readonly<Record<RemedyText['system'], string>> = {
  windows: 'Windows',
  macos: 'macOS',
  linux: 'Linux',
  any: 'Any computer',
};
