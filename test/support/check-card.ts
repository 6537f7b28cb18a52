import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { readProfile } from '../../src/board/read.js';
import { parseTradeSize } from '../../src/board/units.js';
import { type ByteSource, ReadProblem } from '../../src/bytes/byte-source.js';
import { check } from '../../src/core/check.js';
import { machineFromOptions } from '../../src/machine/machine.js';
import { nodeDigests } from '../../src/node/digests.js';
import { openImage } from '../../src/node/open-image.js';
import type { Report } from '../../src/report/report.js';
import type { RuleSet } from '../../src/rules/rule.js';

const root = join(import.meta.dirname, '../..');

let compiled: RuleSet | undefined;
/** The rules as the build compiled them. */
export function builtRules(): RuleSet {
  compiled ??= JSON.parse(readFileSync(join(root, 'dist/rules.json'), 'utf8')) as RuleSet;
  return compiled;
}

/** The text of a sample board. */
export function sampleBoard(id: string): string {
  return readFileSync(join(root, 'samples/boards', `${id}.yaml`), 'utf8');
}

/**
 * Checks an image in this process, with the options of a recipe: `board`, `installed`, `was`, `supply`, `set`
 * (`axis=value axis=value`), `card`, `fresh`, `profile` (a path in place of a sample board), `unreadable` (`OFFSET LENGTH`:
 * reads that touch it fail), `change` (`old => new` in the text of the board).
 */
export async function checkCardFile(
  image: string,
  options: Readonly<Record<string, string>> = {},
  ruleSet: RuleSet = builtRules(),
): Promise<Report> {
  const text = boardText(options);
  const profile =
    text === null ? null : readProfile(text, `${options.board ?? options.profile}.yaml`).profile;
  const sets = Object.fromEntries(
    (options.set ?? '')
      .split(' ')
      .filter(Boolean)
      .map((pair) => pair.split('=')),
  );
  const { supply, installed, was } = options;
  const { machine, problems } = machineFromOptions({ supply, installed, was, sets }, profile);
  if (problems.length > 0) throw new Error(problems.map(({ message }) => message).join('; '));
  const opened = await openImage(image);
  try {
    const source = options.unreadable ? unreadable(opened.source, options.unreadable) : opened.source;
    return check(
      {
        target: { ...opened, path: image, kind: 'image', view: 'medium', source },
        profile,
        machine,
        stated: {
          fresh: options.fresh === 'yes',
          ...(options.card ? { cardBytes: parseTradeSize(options.card)?.nominal ?? 0 } : {}),
        },
        digests: nodeDigests,
      },
      { ruleSet, version: 'test' },
    );
  } finally {
    opened.close();
  }
}

function boardText(options: Readonly<Record<string, string>>): string | null {
  if (options.board === undefined)
    return options.profile === undefined ? null : readFileSync(options.profile, 'utf8');
  let text = sampleBoard(options.board);
  // `# change: old => new` replaces one line of the profile, so that a card can be held against a variation of a board.
  for (const [key, value] of Object.entries(options)) {
    if (!/^change(-\d)?$/.test(key)) continue;
    const [from, to] = value.split(' => ');
    if (from === undefined || to === undefined || !text.includes(from.replaceAll('\\n', '\n')))
      throw new Error(`no "${from}" in ${options.board}`);
    text = text.replace(from.replaceAll('\\n', '\n'), to.replaceAll('\\n', '\n'));
  }
  return text;
}

/** A card with a stretch that gives read errors, as a dying one does. */
function unreadable(inner: ByteSource, stretch: string): ByteSource {
  const [at = 0, length = 0] = stretch.split(' ').map(Number);
  return {
    size: inner.size,
    read: (from, bytes) =>
      from < at + length && from + bytes > at
        ? new ReadProblem(from, bytes, 'read-error', 'input/output error')
        : inner.read(from, bytes),
  };
}
