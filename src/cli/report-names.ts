/** Name of the file that says which report is whose. No report takes it. */
export const summaryName = 'summary.json';

/** Endings of files by the form of a report; others are the form itself. */
const endings: Readonly<Record<string, string>> = { text: 'txt', junit: 'xml' };

/** Names that Windows keeps for devices, whatever their ending. */
const devices = /^(?:con|prn|aux|nul|com\d|lpt\d)(?:\.|$)/i;
const longest = 100;

/**
 * A file name for the report of each target, in the order of the targets: the name of the card with an ending, in
 * letters that every system takes, and no two the same where capital and small letters are one.
 */
export function reportNames(targets: readonly string[], kind: string): string[] {
  const taken = new Set([summaryName]);
  const nextNumber = new Map<string, number>();
  return targets.map((path) => {
    const base = baseName(path);
    const key = base.toLowerCase();
    let number = nextNumber.get(key) ?? 1;
    let name: string;
    do {
      name = `${base}${number === 1 ? '' : `-${number}`}.${endings[kind] ?? kind}`;
      number++;
    } while (taken.has(name.toLowerCase()));
    nextNumber.set(key, number);
    taken.add(name.toLowerCase());
    return name;
  });
}

function baseName(path: string): string {
  const name = path.split(/[\\/]/).findLast((part) => part !== '') ?? '';
  const plain = name
    .replaceAll(/[^A-Za-z0-9._-]/g, '_')
    .replace(/^[.-]+/, '')
    .slice(0, longest);
  return plain === '' || devices.test(plain) ? `card_${plain}` : plain;
}
