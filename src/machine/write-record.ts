import { Document, isCollection, Scalar, visit } from 'yaml';
import { limits } from '../bytes/limits.js';
import { visible, withoutHidden } from '../rules/visible.js';
import type { MachineRecord } from './record.js';

/**
 * The text of a machine record, which `readRecord` reads back as the same record. Whatever the machine sent, the text
 * holds no character that a terminal obeys.
 * @param remarks sentences for the top of the file, as comments
 */
export function writeRecord(record: MachineRecord, remarks: readonly string[]): string {
  const { board, revision, options, lastFileName, identity, settings } = record;
  const { supply, installed, was, sets } = options;
  const document = new Document({
    schema: 'flashworthy-machine/1',
    board,
    ...(revision === undefined ? {} : { revision }),
    ...(supply === undefined ? {} : supply.toLowerCase() === 'unsure' ? { unsure: true } : { supply }),
    ...(installed === undefined ? {} : installed.toLowerCase() === 'none' ? { none: true } : { installed }),
    ...(was === undefined ? {} : { was }),
    ...Object.fromEntries(Object.entries(sets ?? {}).filter(([axis]) => axis !== 'installed')),
    ...(lastFileName === undefined ? {} : { lastFileName }),
    identity,
    settings,
    capture: keptCapture(record.capture),
  });
  visit(document, {
    Scalar: (_key, node) => {
      if (typeof node.value === 'string' && visible(node.value) !== node.value)
        node.type = Scalar.QUOTE_DOUBLE;
    },
  });
  const list = document.get('settings');
  if (isCollection(list)) for (const item of list.items) if (isCollection(item)) item.flow = true;
  const comments = remarks.map((text) => `# ${visible(text)}\n`).join('');
  return comments + escaped(document.toString({ lineWidth: 0 }));
}

/** Hidden characters stand in double quotes only, where YAML 1.2 knows `\u` and `\U` (5.7). */
const escaped = (text: string): string =>
  withoutHidden(text, (character) => {
    if (character === '\n') return character;
    const code = character.codePointAt(0)!.toString(16);
    return code.length > 4 ? `\\U${code.padStart(8, '0')}` : `\\u${code.padStart(4, '0')}`;
  });

/** The first lines of a capture, as many as leave the record a file that can be read again. */
function keptCapture(lines: readonly string[]): string[] {
  const most = limits.textFileBytes / 2;
  const kept: string[] = [];
  let size = 0;
  for (const line of lines) {
    const text = line.slice(0, limits.captureLineCharacters);
    // Dash, quotation marks, line break; an escape has six characters, or ten for two.
    size += 8 + text.length + 5 * (text.match(/[^ !#-[\]-~]/g)?.length ?? 0);
    if (size > most) break;
    kept.push(text);
  }
  return kept;
}
