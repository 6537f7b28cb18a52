import { sizeText } from '../bytes/size-text.js';
import { factSchema } from '../facts/schema.js';
import type { RemedyText, Report, Stated } from './report.js';

const kindWords = {
  image: 'card image',
  device: 'card',
  folder: 'mounted card',
  staging: 'folder, no card',
  release: 'release folder',
} as const;

/** What was checked, in a few words: its kind, its size, and whether the computer's memory stood in between. */
export function targetText({ kind, bytes, view }: Report['target']): string {
  const size = bytes === null ? '' : `, ${sizeText(bytes)}`;
  return `${kindWords[kind]}${size}${view === 'cached' && kind !== 'staging' && kind !== 'release' ? ", as the computer's memory shows it" : ''}`;
}

/** What an owner who gives these options says, in whole sentences. */
const sentences: Readonly<Record<string, string>> = {
  'media.history fresh': 'the card was formatted just now, and these files were copied onto it once',
  'media.reinserted true': 'the card was ejected after the copying and put back',
};

/** What the owner stated: of what is true or false, the statement itself. */
export function statedText({ fact, text }: Stated): string {
  const own = sentences[`${fact} ${text}`];
  if (own !== undefined) return own;
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
