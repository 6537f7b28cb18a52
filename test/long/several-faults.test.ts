import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { withCard } from '../support/cards.js';
import { checkCardFile } from '../support/check-card.js';

/** One thing that is wrong with a card: the rule that must complain, and the lines of a recipe that bring it about. */
interface Fault {
  readonly rule: string;
  /** In place of `card 20M`, the table and the formatter. */
  readonly format?: string;
  /** In place of copying the update file. */
  readonly file?: string;
  /** In place of copying the start file. */
  readonly companion?: string;
  /** After everything. */
  readonly after?: string;
}

const formatFaults: Fault[] = [
  { rule: 'volume/cluster-size', format: 'card 40M; mbr "start=2048, type=6"; fat 16 4' },
  { rule: 'card/partition-type', after: 'sfdisk -q --no-tell-kernel --part-type "$image" 1 83 >/dev/null' },
  { rule: 'card/boot-flag', after: 'poke 446 12' },
  { rule: 'volume/fs-info', format: 'card 600M; mbr "start=8192, type=c"; fat 32 16 8192' },
  { rule: 'volume/damage-elsewhere', after: 'entry 4000 ff ff' },
  { rule: 'card/partition-table', format: 'card 20M; fat 16 8 0' },
].filter(({ rule }) => rule !== 'volume/fs-info');

const fileFaults: Fault[] = [
  { rule: 'file/present', file: 'true' },
  { rule: 'file/misnamed', file: 'put "$(uf2 30000)" BURR/MILL.UF2.UF2' },
  { rule: 'file/elsewhere', file: 'put "$(uf2 30000)" MILL.UF2' },
  { rule: 'file/empty', file: 'put "$(empty)" BURR/MILL.UF2' },
  {
    rule: 'image/encoding',
    file: 'put "$(text "<!DOCTYPE html><html><body>Download</body></html>")" BURR/MILL.UF2',
  },
  {
    rule: 'image/whole',
    file: 'cut=$(uf2 30000); { head -c 5120 "$cut"; tail -c +5633 "$cut"; } >"$work/cut"; put "$work/cut" BURR/MILL.UF2',
  },
  { rule: 'image/application-area', file: 'put "$(uf2 30208 1F8B00)" BURR/MILL.UF2' },
  {
    rule: 'volume/fragments',
    file: 'put "$(bytes 8000)" A; put "$(bytes 8000 2)" B; remove A; put "$(uf2 30000)" BURR/MILL.UF2',
  },
];

const companionFaults: Fault[] = [{ rule: 'companion/complete', companion: 'true' }];

/** Every pair and triple of faults of different kinds, in an order that mixes them, the first fifty and a few more. */
const mixes: Fault[][] = [
  ...formatFaults.flatMap((format) => fileFaults.map((file) => [format, file])),
  ...fileFaults.flatMap((file) => companionFaults.map((companion) => [file, companion])),
  ...formatFaults.flatMap((format) => companionFaults.map((companion) => [format, companion])),
  ...formatFaults.flatMap((format, at) =>
    fileFaults.filter((_, other) => (at + other) % 4 === 0).map((file) => [format, file, ...companionFaults]),
  ),
];

function recipe(faults: readonly Fault[]): string {
  const part = (name: keyof Fault, usual: string): string =>
    faults.map((fault) => fault[name]).find(Boolean) ?? usual;
  return [
    `. ${join(import.meta.dirname, '../support/card-tools.sh')}`,
    part('format', 'card 20M; mbr "start=2048, type=6"; fat 16 8'),
    'folder BURR',
    part('file', 'put "$(uf2 30000)" BURR/MILL.UF2'),
    part('companion', 'put "$(text go)" BURR/START.LKT'),
    part('after', 'true'),
    '',
  ].join('\n');
}

describe(`${mixes.length} cards with two or three faults: one complaint for each cause, and no more`, () => {
  const folder = mkdtempSync(join(tmpdir(), 'flashworthy-faults-'));
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  test('there are fifty at least', () => {
    expect(mixes.length).toBeGreaterThanOrEqual(50);
  });

  test.concurrent.each(
    mixes.map((faults, at) => [faults.map(({ rule }) => rule).join(' + '), faults, at] as const),
  )('%s', async (_name, faults, at) => {
    const path = join(folder, `card-${at}.sh`);
    writeFileSync(path, recipe(faults));
    const report = await withCard(path, (image) =>
      checkCardFile(image, { board: 'burr', set: 'panel=none' }),
    );
    const failed = report.findings.filter(
      ({ outcome, hazard }) => outcome === 'failed' && hazard !== 'advice',
    );
    expect(failed.map(({ rule }) => rule).sort()).toEqual(faults.map(({ rule }) => rule).sort());
    expect(report.verdict).toBe('refused');
  });
});
