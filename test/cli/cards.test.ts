import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, it } from 'vitest';
import { tradeSizeText } from '../../src/bytes/size-text.js';
import { cardsReport } from '../../src/cli/cards.js';
import { macosSystem } from '../../src/node/systems/macos.js';
import type { CardList, ListedCard } from '../../src/node/systems/system.js';
import { windowsSystem } from '../../src/node/systems/windows.js';
import type { CardsReport } from '../../src/report/cards.js';
import { cardsText } from '../../src/report/cards-text.js';
import { jsonText } from '../../src/report/json.js';
import { asked, fixture } from '../node/systems/asked.js';

const root = join(import.meta.dirname, '..', '..');
const validate = new Ajv2020({ allErrors: true, allowUnionTypes: true }).compile(
  JSON.parse(readFileSync(join(root, 'src/report/schema/cards.schema.json'), 'utf8')),
);

const card: ListedCard = {
  target: '/media/you/CARD',
  device: '/dev/sdb',
  title: 'Card Reader',
  bytes: 31_914_983_424,
  fileSystem: 'FAT32',
  label: 'CARD',
  mountedAt: '/media/you/CARD',
};
const report = (list: Partial<CardList>, platform: NodeJS.Platform = 'linux'): CardsReport => {
  const made = cardsReport({ cards: [], incomplete: null, ...list }, '1.2.3', platform);
  validate(JSON.parse(jsonText(made)));
  expect(validate.errors).toBeNull();
  return made;
};
const text = (list: Partial<CardList>, platform?: NodeJS.Platform): string => {
  const printed = cardsText(report(list, platform), { width: 80, color: false });
  for (const line of printed.split('\n'))
    if (!line.includes('flashworthy check')) expect([...line].length).toBeLessThanOrEqual(80);
  return printed;
};

describe('the table of cards', () => {
  it('has a line for each card and the line to type', () => {
    const other = { ...card, target: '/dev/sdc', device: '/dev/sdc', mountedAt: null, fileSystem: null };
    expect(text({ cards: [card, { ...other, label: null, bytes: 8_000_000_000 }] })).toBe(
      `NAME           SIZE   FILE SYSTEM  WHERE
CARD           32 GB  FAT32        /media/you/CARD
(Card Reader)  8 GB   not told     not mounted (/dev/sdc)

To check one of them, type
    flashworthy check /media/you/CARD
    flashworthy check /dev/sdc
  With --board and the profile of your board, or its release folder, it is
  checked for that board.

A card that is not mounted shows no files in the computer. Reading it needs
administrator rights; if it should be mounted, take it out and put it back.
`,
    );
  });

  it('says what to try when there is none, and no more than was seen', () => {
    expect(text({})).toMatch(/^There is no removable card in this computer\.\n/);
    const unsure = text({ incomplete: 'diskutil did not answer within 5 seconds' });
    expect(unsure).toMatch(/^No removable card was seen\.\n/);
    expect(unsure).toContain('This list may lack cards: diskutil did not answer within 5 seconds.\n');
  });

  it('says in Linux inside Windows where the cards are', () => {
    const { incomplete } = cardsReport({ cards: [], incomplete: 'one reason' }, '1.2.3', 'linux', true);
    expect(incomplete).toMatch(/^one reason; this is Linux inside Windows/);
    expect(cardsReport({ cards: [], incomplete: null }, '1.2.3', 'linux', true).incomplete).toMatch(
      /^this is Linux/,
    );
  });

  it('shows names that would move the cursor, and shortens long ones', () => {
    const hostile = {
      ...card,
      label: '\u001B[2Jred\u202E',
      title: 'x\u0007',
      target: '/media/\u001B]0;x\u0007',
      mountedAt: '/media/\u001B]0;x\u0007',
    };
    const long = { ...card, label: 'L'.repeat(5000), fileSystem: 'f'.repeat(300) };
    for (const shown of [text({ cards: [hostile, long] }), jsonText(report({ cards: [hostile] }))])
      expect(shown).not.toMatch(/[\u0000-\u0009\u000B-\u001F\u007F-\u009F\u202E]/);
    // A line break in a name makes no line that could pass for one of ours.
    const broken = text({
      cards: [{ ...card, mountedAt: '/media/a\n    flashworthy check /x', device: '/dev/sdb' }],
    });
    expect(broken).toContain('/media/a<U+000A>');
    expect(text({ cards: [long] })).toContain('LLLLLLLLLLLLLLLLL...');
    // In JSON the names are what they are.
    expect(JSON.parse(jsonText(report({ cards: [hostile] }))).cards[0].label).toBe(hostile.label);
  });

  it('shows what the fixtures of macOS and Windows hold', () => {
    const mac = macosSystem(asked(fixture('macos/cards.plist')).asking).cards();
    expect(text(mac, 'darwin')).toContain(
      'Ablage & <Rest>      same card  FAT32        /Volumes/Ablage & <Rest>\n',
    );
    expect(text(mac, 'darwin')).toContain("    flashworthy check '/Volumes/Ablage & <Rest>'\n");
    const windows = windowsSystem(asked(fixture('windows/cards.json')).asking).cards();
    expect(text(windows, 'win32')).toContain(
      '    flashworthy check E:\n    flashworthy check F:\n    flashworthy check G:\n    flashworthy check \\\\.\\PhysicalDrive4\n',
    );
  });
});

describe('sizes', () => {
  it('are those printed on cards', () => {
    // Sizes of cards: 32,010,928,128 bytes is commonly met; the others from memory of cards sold under these sizes.
    const sold: [number, string][] = [
      [32_010_928_128, '32 GB'],
      [31_914_983_424, '32 GB'],
      [63_864_569_856, '64 GB'],
      [15_931_539_456, '16 GB'],
      [7_948_206_080, '8 GB'],
      [2_032_664_576, '2 GB'],
      [512_483_328, '512 MB'],
      [1_000_000_000_000, '1 TB'],
    ];
    for (const [bytes, words] of sold) expect([bytes, tradeSizeText(bytes)]).toEqual([bytes, words]);
    // Between two sizes, and above what is sold as one: as it is.
    expect(tradeSizeText(3_000_000_000)).toBe('2.8 GiB');
    expect(tradeSizeText(2 * 1024 ** 3)).toBe('2 GiB');
    expect(tradeSizeText(0)).toBe('0 bytes');
  });
});

describe('the line to type', () => {
  it('is one word for the shell, whatever the folder is called', () => {
    const names = [
      '/media/a b',
      "/media/it's",
      '/media/$(touch x)',
      '/media/`x`',
      '/media/a\\b',
      '/media/ö',
      '/m/*',
      '/m/~',
    ];
    const cards = names.map((target) => ({ ...card, target, mountedAt: target }));
    for (const [index, { command }] of report({ cards }).cards.entries()) {
      const { stdout } = spawnSync('/bin/sh', ['-c', command.replace('flashworthy check', 'printf %s')], {
        encoding: 'utf8',
      });
      expect(stdout).toBe(names[index]);
    }
  });
});

describe('the command', () => {
  it('ends with 0 and prints the published form', () => {
    const run = (...args: string[]) =>
      spawnSync(process.execPath, ['dist/flashworthy.js', 'cards', ...args], { cwd: root, encoding: 'utf8' });
    const { status, stdout, stderr } = run('--format', 'json');
    expect({ status, stderr }).toEqual({ status: 0, stderr: '' });
    validate(JSON.parse(stdout));
    expect(validate.errors).toBeNull();
    expect(run('--format', 'xml').status).toBe(64);
  });
});
