import { describe, expect, test } from 'vitest';
import type { ResolvedProfile } from '../../src/board/profile.js';
import { readProfile } from '../../src/board/read.js';
import { resolveProfile } from '../../src/board/resolve.js';
import { MemorySource } from '../../src/bytes/byte-source.js';
import { readPartitionTable, takenPartition } from '../../src/card/partition-table/partition-table.js';
import { Absent, Unseen } from '../../src/facts/fact.js';
import { takenByTold } from '../../src/facts/taken-by-told.js';
import { machineFromOptions } from '../../src/machine/machine.js';
import { sampleBoard } from '../support/check-card.js';
import { mbrSector } from '../support/disk-images.js';

const burr = readProfile(sampleBoard('burr'), 'burr.yaml').profile;
const resolved = resolveProfile(burr, machineFromOptions({ sets: { panel: 'none' } }, burr).machine);

const board = (loader: Partial<ResolvedProfile['loader']>): ResolvedProfile => ({
  ...resolved,
  loader: { ...resolved.loader, ...loader },
});

type Slot = readonly [flag: number, type: number, start: number, sectors: number] | null;

/** All ways to use four slots of an MBR, each free, plain or active; one at most is active. */
const layouts: Slot[][] = [];
for (let code = 0; code < 81; code++) {
  const uses = [0, 1, 2, 3].map((at) => Math.floor(code / 3 ** at) % 3);
  if (uses.filter((use) => use === 2).length > 1) continue;
  layouts.push(uses.map((use, at) => (use === 0 ? null : [use === 2 ? 0x80 : 0, 6, 2048 + at * 64, 64])));
}

describe('the partition that a loader takes, told by the system', () => {
  // `takenPartition` reads the table itself and is tested against real tools; the two must never contradict each other.
  test.each(['first-slot', 'first-fat', 'active', 'slot-1', 'slot-2', 'slot-3', 'slot-4', 'whole-card'])(
    'agrees with the reader of partition tables: %s',
    (takesPartition) => {
      let certain = 0;
      for (const slots of layouts) {
        const bytes = new Uint8Array(2400 * 512);
        bytes.set(mbrSector(slots));
        const table = readPartitionTable(new MemorySource(bytes));
        const used = slots.flatMap((slot, at) => (slot === null ? [] : [{ slot, index: at + 1 }]));
        // Every partition holds FAT here, and any of them may be the one that is mounted.
        const own = takenPartition(table, takesPartition, bytes.length, () => 'FAT');
        for (const { slot, index } of used) {
          const told = takenByTold(
            {
              scheme: 'mbr',
              partitionIndex: index,
              bootFlag: slot[0],
              otherPartitions: used.length - 1,
              fileSystem: 'FAT16',
            },
            board({ takesPartition }),
          );
          if (told instanceof Unseen) {
            // Open only where another partition may be meant.
            expect(used.length).toBeGreaterThan(1);
            continue;
          }
          certain++;
          if (takesPartition === 'whole-card') expect(told.taken).toBe(false);
          else if (told.taken) expect(own).toMatchObject({ found: true, index });
          else expect(own).toMatchObject({ found: false });
        }
      }
      expect(certain).toBeGreaterThan(3);
    },
  );

  const mbr = {
    scheme: 'mbr',
    partitionIndex: 1,
    bootFlag: 0,
    otherPartitions: 0,
    fileSystem: 'FAT16',
  } as const;
  const hidden = new Unseen('not-visible', 'not told');
  const whole = { ...mbr, scheme: 'none', partitionIndex: new Absent('no partition') } as const;

  test('on a card without a table is the card itself, for every habit', () => {
    for (const takesPartition of ['first-slot', 'first-fat', 'active', 'slot-3', 'whole-card'])
      expect(takenByTold(whole, board({ takesPartition }))).toEqual({ taken: true });
  });

  test('is open when the system does not tell what decides', () => {
    for (const told of [{ scheme: hidden }, { partitionIndex: hidden }])
      expect(takenByTold({ ...mbr, ...told }, board({ takesPartition: 'first-slot' }))).toBe(hidden);
    expect(takenByTold({ ...mbr, bootFlag: hidden }, board({ takesPartition: 'active' }))).toBe(hidden);
    expect(takenByTold({ ...mbr, fileSystem: hidden }, board({ takesPartition: 'first-fat' }))).toBe(hidden);
    expect(
      takenByTold(
        { ...mbr, otherPartitions: hidden, partitionIndex: 2 },
        board({ takesPartition: 'first-slot' }),
      ),
    ).toBeInstanceOf(Unseen);
    expect(takenByTold(mbr, null)).toMatchObject({ cause: 'profile-silent' });
    for (const takesPartition of ['any', undefined] as const)
      expect(
        takenByTold(mbr, { ...resolved, loader: { ...resolved.loader, takesPartition } as never }),
      ).toMatchObject({
        cause: 'profile-silent',
      });
  });

  test('of a GPT is the first entry that is used, wherever it stands; a hybrid one is open', () => {
    const gpt = { ...mbr, scheme: 'gpt', bootFlag: new Absent('no flags') } as const;
    const reads = (partitioning: string[], takesPartition = 'first-slot') =>
      board({ partitioning, takesPartition } as Partial<ResolvedProfile['loader']>);
    expect(takenByTold(gpt, reads(['gpt']))).toEqual({ taken: true });
    expect(takenByTold({ ...gpt, partitionIndex: 3 }, reads(['gpt']))).toEqual({ taken: true });
    expect(takenByTold({ ...gpt, partitionIndex: 3 }, reads(['gpt'], 'slot-1'))).toMatchObject({
      taken: false,
    });
    expect(takenByTold({ ...gpt, partitionIndex: 3, otherPartitions: 1 }, reads(['gpt']))).toBeInstanceOf(
      Unseen,
    );
    expect(takenByTold(gpt, reads(['gpt'], 'active'))).toMatchObject({ taken: false });
    expect(takenByTold(gpt, reads(['gpt', 'hybrid']))).toBeInstanceOf(Unseen);
    expect(takenByTold({ ...mbr, scheme: 'hybrid' }, reads(['mbr', 'hybrid']))).toBeInstanceOf(Unseen);
  });

  test('is no logical one for a loader that does not find those', () => {
    const logical = { ...mbr, partitionIndex: 5 };
    expect(takenByTold(logical, board({ takesPartition: 'slot-5', logicalPartitions: false }))).toMatchObject(
      { taken: false },
    );
    expect(takenByTold(logical, board({ takesPartition: 'slot-5', logicalPartitions: true }))).toEqual({
      taken: true,
    });
    expect(
      takenByTold(
        { ...logical, otherPartitions: hidden },
        board({ takesPartition: 'first-fat', logicalPartitions: false }),
      ),
    ).toBeInstanceOf(Unseen);
  });
});
