import { RuleError } from '../rules/rule-error.js';
import { YamlSource } from '../rules/yaml-source.js';

/** A word that a reader may not know, and what it means. */
export interface GlossaryWord {
  readonly term: string;
  /** Other forms under which it stands in texts. */
  readonly also: readonly string[];
  /** One plain sentence or more. */
  readonly means: string;
}

/** Reads `rules/glossary.yaml`. Throws `RuleError` with everything that is wrong in it. */
export function readGlossary(text: string, file: string): GlossaryWord[] {
  const source = new YamlSource(text, file);
  const words: GlossaryWord[] = [];
  const map = source.parse();
  if (map) {
    const keys = ['schema', 'words'];
    const top = source.entries(map, 'the glossary', keys, keys);
    source.word(top.get('schema')?.value, 'schema', ['flashworthy-glossary/1']);
    for (const node of source.items(top.get('words')?.value, 'words', 'a list of { term, means }') ?? []) {
      const entry = source.entries(node, 'a word', ['term', 'also', 'means'], ['term', 'means']);
      const also = entry.get('also');
      words.push({
        term: source.string(entry.get('term')?.value, 'term') ?? '',
        also: (also ? (source.items(also.value, 'also', 'a list of texts') ?? []) : []).flatMap(
          (form) => source.string(form, 'an entry of also') ?? [],
        ),
        means: source.string(entry.get('means')?.value, 'means') ?? '',
      });
    }
  }
  if (source.problems.length > 0) throw new RuleError(source.problems);
  return words;
}

/** The words of the glossary that occur in a text, in alphabetical order. */
export function wordsUsed(text: string, glossary: readonly GlossaryWord[]): GlossaryWord[] {
  return glossary.filter(({ term, also }) => [term, ...also].some((form) => occurs(form, text))).sort(byTerm);
}

/** Orders words as a reader looks them up: capital and small letters are the same. */
export function byTerm(one: GlossaryWord, other: GlossaryWord): number {
  const [first, second] = [one.term.toLowerCase(), other.term.toLowerCase()];
  return first < second ? -1 : first > second ? 1 : 0;
}

const patterns = new Map<string, RegExp>();

/** As a word by itself, with or without a plural s: FAT does not occur in FAT32. */
function occurs(form: string, text: string): boolean {
  let pattern = patterns.get(form);
  if (!pattern) {
    const escaped = form.replaceAll(/[\^$.*+?()[\]{}|/]/g, '\\$&').replaceAll(' ', '\\s+');
    const isPlain = form === form.toLowerCase();
    pattern = new RegExp(`(?<![\\p{L}\\p{N}])${escaped}s?(?![\\p{L}\\p{N}])`, isPlain ? 'iu' : 'u');
    patterns.set(form, pattern);
  }
  return pattern.test(text);
}
