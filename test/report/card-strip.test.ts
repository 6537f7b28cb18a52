import { execFileSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { cardStrip, type StripSegment, stripText } from '../../src/report/card-strip.js';
import type { Json, Report } from '../../src/report/report.js';
import { textReport } from '../../src/report/text.js';
import { recipes, withCard } from '../support/cards.js';
import { checkCardFile } from '../support/check-card.js';
import { fit } from './sample-reports.js';

const mib = 1024 * 1024;

type Facts = { [key: string]: Json };

/** A 64 MiB card with one FAT16 volume from 1 MiB on: 4 KiB clusters, FATs of 32 sectors, a root folder of 512 entries. */
const facts = (more: Facts = {}): Facts => ({
  media: { bytes: 64 * mib },
  partitionTable: {
    scheme: 'mbr',
    entries: [
      { index: 1, kind: 'primary', startByte: mib, bytes: 32 * mib, taken: true, fileSystem: 'FAT16' },
      { index: 2, kind: 'primary', startByte: 40 * mib, bytes: 8 * mib, taken: false, fileSystem: 'ext4' },
    ],
  },
  partition: { startByte: mib, bytes: 32 * mib },
  volume: {
    fileSystem: 'FAT16',
    startByte: mib,
    bytes: 32 * mib,
    bytesPerSector: 512,
    clusterBytes: 4096,
    reservedSectors: 1,
    fatCount: 2,
    rootStartByte: mib + 65 * 512,
    dataStartByte: mib + 97 * 512,
  },
  ...more,
});
const report = (own: Facts, kind: Report['target']['kind'] = 'image'): Report => ({
  ...fit,
  target: { ...fit.target, kind },
  facts: own,
});
const strip = (own: Facts): StripSegment[] => cardStrip(report(own)) ?? [];
const drawn = (own: Facts, width = 80): string => stripText(strip(own), width)[0] ?? '';
const data = mib + 97 * 512;
const file = (...pieces: [cluster: number, clusters: number][]): Facts => ({
  updateFile: {
    path: 'TANSY.LKF',
    bytes: 1,
    fragments: pieces.length,
    pieces: pieces.map(([at, count]) => ({ startByte: data + at * 4096, bytes: count * 4096 })),
  },
});

/** Stretches follow one another from the first byte on, each with a length. */
function expectRow(row: readonly StripSegment[]): void {
  let at = 0;
  for (const { start, length } of row) {
    expect(start).toBe(at);
    expect(length).toBeGreaterThan(0);
    at = start + length;
  }
}

describe('the layout of a card', () => {
  it('names every stretch from the first byte to the last', () => {
    const row = strip(facts(file([0, 2], [5, 3])));
    expectRow(row);
    expect(row.map(({ kind, start, piece }) => [kind, start, ...(piece ? [piece] : [])])).toEqual([
      ['partition-table', 0],
      ['unused', 512],
      ['boot', mib],
      ['fat', mib + 512],
      ['fat', mib + 33 * 512],
      ['root-folder', mib + 65 * 512],
      ['update-file', data, 1],
      ['data', data + 2 * 4096],
      ['update-file', data + 5 * 4096, 2],
      ['data', data + 8 * 4096],
      ['unused', 33 * mib],
      ['other-partition', 40 * mib],
      ['unused', 48 * mib],
    ]);
    expect(row.filter(({ inVolume }) => inVolume)).toHaveLength(8);
    expect(row.at(-1)).toMatchObject({ length: 16 * mib });
  });

  it('puts the root folder of FAT32 among the clusters', () => {
    const own = facts(file([1, 1]));
    Object.assign(own.volume as Facts, { fileSystem: 'FAT32', rootStartByte: data });
    expect(drawn(own)).toMatch(/^ {2}T-+\[B+F+R+U+\.+\]-+P+-+$/);
  });

  it('has no partition table and no gap where the volume is the whole card', () => {
    const own = facts();
    own.partitionTable = { scheme: 'none', entries: [] };
    own.partition = {};
    Object.assign(own.volume as Facts, {
      startByte: 0,
      bytes: 64 * mib,
      rootStartByte: 65 * 512,
      dataStartByte: 97 * 512,
    });
    expect(drawn(own)).toMatch(/^ {2}\[B+F+R+\.+\]$/);
  });

  it('says "?" for what could not be seen, and "x" for what is not there', () => {
    const unread = facts();
    unread.volume = { fileSystem: 'FAT16', startByte: mib };
    expect(drawn(unread)).toMatch(/^ {2}T-+\[\?+\]-+P+-+$/);
    // The file is there, its place is not known.
    expect(drawn(facts({ updateFile: { path: 'A', bytes: 9 } }))).toMatch(/\[B+F+R+\?+\]/);
    expect(drawn(facts({ updateFile: { path: 'A', bytes: 0, pieces: [] } }))).toMatch(/\[B+F+R+\.+\]/);
    const short = facts();
    short.media = { bytes: 20 * mib };
    short.partitionTable = { scheme: 'mbr', entries: [] };
    const row = strip(short);
    expectRow(row);
    expect(row.at(-1)).toMatchObject({ kind: 'beyond-end', start: 20 * mib, length: 13 * mib });
    expect(stripText(row, 80).join('\n')).toMatch(/\.+x+\]\n(?:.*\n)*? {2}x {3}not there: behind the end/);
  });

  it('is for FAT volumes on a medium only', () => {
    for (const kind of ['folder', 'staging'] as const) expect(cardStrip(report(facts(), kind))).toBeNull();
    expect(cardStrip(report(facts(), 'device'))).not.toBeNull();
    expect(cardStrip(report(facts({ volume: { fileSystem: 'exFAT', startByte: mib } })))).toBeNull();
    expect(cardStrip(report({}))).toBeNull();
  });

  it('stands whatever a report claims', () => {
    const anything = fc.oneof(fc.integer(), fc.double(), fc.maxSafeInteger(), fc.string(), fc.constant(null));
    const claim = fc.dictionary(
      fc.constantFrom(
        'startByte',
        'bytes',
        'bytesPerSector',
        'clusterBytes',
        'reservedSectors',
        'fatCount',
        'rootStartByte',
        'dataStartByte',
        'fragments',
        'scheme',
      ),
      anything,
    );
    fc.assert(
      fc.property(claim, claim, fc.array(claim, { maxLength: 60 }), (volume, media, pieces) => {
        const own = facts({
          media: { bytes: 64 * mib, ...media },
          updateFile: { ...media, path: 'A', pieces },
        });
        Object.assign(own.volume as Facts, volume);
        const row = cardStrip(report(own as Facts)) ?? [];
        expectRow(row);
        for (const line of stripText(row, 60)) expect(line.length).toBeLessThanOrEqual(60);
      }),
      { numRuns: 300 },
    );
  });
});

describe('the drawing', () => {
  it('is at most as wide as the terminal, with every piece in its order', () => {
    const own = facts(file([9, 1], [0, 1], [4, 2]));
    for (const width of [40, 60, 80, 100]) {
      const lines = stripText(strip(own), width);
      for (const line of lines) expect(line.length).toBeLessThanOrEqual(width);
      expect(lines[0]).toMatch(/^ {2}T-+\[B+F+R+2+\.+3+\.+1+\.+\]-+P+-+$/);
      expect(lines.join('\n')).toMatch(/TANSY\.LKF,\s+piece 2 of\s+3/);
    }
  });

  it('draws the pieces after the ninth as one', () => {
    const many = file(...Array.from({ length: 50 }, (_, index) => [index * 3, 1] as [number, number]));
    const lines = stripText(strip(facts(many)), 80);
    expect(lines[0]).toMatch(/9\.\++\.+\]/);
    expect(lines.join('\n')).toContain('41 more pieces of the update file');
    for (const line of lines) expect(line.length).toBeLessThanOrEqual(80);
    expect(stripText(strip(facts(many)), 40)[0]?.length).toBeLessThanOrEqual(40);
  });

  it('lets no name from a card reach the terminal as it is', () => {
    const own = facts(file([0, 1]));
    (own.updateFile as Facts).path = 'A\u001b[2J\u202e.BIN';
    expect(stripText(strip(own), 80).join('\n')).toContain('A<U+001B>[2J<U+202E>.BIN');
  });

  it('stands in a report where it helps, and whenever everything is asked for', () => {
    const options = { width: 80, color: false, verbose: false };
    const title = 'The card from its first byte to its last';
    const failed = { ...fit.findings[0]!, outcome: 'failed' as const };
    const refused = (rule: string): Report => ({
      ...report(facts()),
      verdict: 'refused',
      hazard: 'ignored',
      findings: [{ ...failed, rule }],
    });
    expect(textReport(refused('volume/fragments'), options)).toContain(title);
    expect(textReport(refused('file/misnamed'), options)).not.toContain(title);
    expect(textReport(refused('file/misnamed'), { ...options, verbose: true })).toContain(title);
    expect(textReport(report(facts()), options)).not.toContain(title);
  });
});

describe('the pieces of the update file', () => {
  const names = ['fragments', 'fragments-filled-hole', 'file-fills-its-last-cluster', 'burr-good'];
  const cards = [...recipes('err'), ...recipes('ok')].filter(({ name }) => names.includes(name));

  it('are looked for on these cards', () => {
    expect(cards.map(({ name }) => name).sort()).toEqual([...names].sort());
  });

  it.each(cards.map((card) => [card.name, card] as const))(
    'lie where mtools sees them: %s',
    async (_, card) => {
      await withCard(card.recipe, async (image) => {
        expect(existsSync(image)).toBe(true);
        const { facts: own } = await checkCardFile(image, card.options);
        const volume = own.volume as { [key: string]: number };
        const update = own.updateFile as { path: string; pieces: { startByte: number; bytes: number }[] };
        const seen = execFileSync('mshowfat', ['-i', `${image}@@${volume.startByte}`, `::${update.path}`], {
          encoding: 'utf8',
        });
        const clusters = [...seen.matchAll(/<(\d+)(?:-(\d+))?>/g)].map(([, first, last]) => {
          const count = Number(last ?? first) - Number(first) + 1;
          return {
            startByte: volume.dataStartByte! + (Number(first) - 2) * volume.clusterBytes!,
            bytes: count * volume.clusterBytes!,
          };
        });
        expect(clusters.length).toBeGreaterThan(0);
        expect(update.pieces).toEqual(clusters);
      });
    },
  );
});
