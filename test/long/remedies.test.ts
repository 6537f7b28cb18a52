import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { describe, expect, test } from 'vitest';
import type { Report } from '../../src/report/report.js';
import { withCard } from '../support/cards.js';
import { checkCardFile } from '../support/check-card.js';

/**
 * The steps that an owner with administrator rights types on Linux, as they are printed for a card that failed, are
 * really run: sfdisk, mkfs.fat, fsck.fat and dd work on the image in place of the card, and the mended card is
 * checked again.
 */

const root = join(import.meta.dirname, '../..');
const recipe = (name: string): string => join(root, 'test/err', name, 'card.sh');

/** The lines to type among the Linux administrator steps of a failed rule. */
function commandsFor(report: Report, rule: string): string[] {
  const finding = report.findings.find((each) => each.rule === rule && each.outcome === 'failed');
  const steps = finding?.remedy.find(
    ({ system, rights }) => system === 'linux' && rights === 'administrator',
  );
  const lines = steps?.do.split('\n').filter((line) => /^ {4,}\S/.test(line)) ?? [];
  if (lines.length === 0) throw new Error(`${rule} prints no line to type`);
  return lines.map((line) => line.trim());
}

/**
 * Runs lines that were written for /dev/sdX and /dev/sdX1 on an image file. Where a line names the partition, its
 * bytes are taken out of the image as the table says, and put back afterwards. `dd` keeps the length of the image, as
 * it keeps that of a card.
 */
function type(image: string, commands: readonly string[]): string {
  const work = dirname(image);
  const script = `
    export PATH="$PATH:/usr/sbin:/sbin"
    sudo() { "$@"; }
    umount() { :; }
    dd() { command dd "$@" status=none conv=notrunc; }
    part="${work}/part"
    take() {
      read -r start size < <(sfdisk -d "${image}" | sed -n 's/.*start= *\\([0-9]*\\), size= *\\([0-9]*\\).*/\\1 \\2/p' | head -n 1)
      rm -f "$part"
      truncate -s $((size * 512)) "$part"
      command dd if="${image}" of="$part" bs=1M iflag=skip_bytes,count_bytes skip=$((start * 512)) count=$((size * 512)) conv=notrunc,sparse status=none
    }
    give() {
      fallocate --punch-hole --offset $((start * 512)) --length $((size * 512)) "${image}"
      command dd if="$part" of="${image}" bs=1M oflag=seek_bytes seek=$((start * 512)) conv=notrunc,sparse status=none
    }
    ${commands
      .map((line) => {
        const own = line.replaceAll('/dev/sdX1', '"$part"').replaceAll('/dev/sdX', `"${image}"`);
        // fsck.fat answers 1 when it has repaired something.
        const typed = `${own} || [ $? = 1 ] || exit 2`;
        return line.includes('/dev/sdX1') ? `take\n${typed}\ngive` : typed;
      })
      .join('\n')}
  `;
  writeFileSync(join(work, 'typed.sh'), script);
  return execFileSync('bash', [join(work, 'typed.sh')], {
    encoding: 'utf8',
    stdio: ['ignore', 'pipe', 'pipe'],
  });
}

/** Copies the files with mtools onto the volume of the first partition. */
function copyFiles(image: string, files: string): void {
  const script = join(dirname(image), 'copy.sh');
  writeFileSync(
    script,
    `. "${root}/test/support/card-tools.sh"
    volume_at=$(($(sfdisk -d "$image" | sed -n 's/.*start= *\\([0-9]*\\),.*/\\1/p' | head -n 1) * 512))
    ${files}`,
  );
  execFileSync('bash', [script, image], { stdio: ['ignore', 'ignore', 'pipe'] });
}

const truncate = (image: string, size: string): void => {
  execFileSync('truncate', ['-s', size, image]);
};

/** What is left to mend, advice aside. */
const weighty = ({ findings }: Report): Report['findings'] =>
  findings.filter(
    ({ outcome, hazard }) => (outcome === 'failed' || outcome === 'unknown') && hazard !== 'advice',
  );

const burr = { board: 'burr', set: 'panel=none' };

describe('the steps for a Linux administrator', () => {
  test.each(['cluster-size', 'gpt', 'exfat', 'hidden-system-partition'])(
    'make a card that the Burr takes, whatever was on it before: %s',
    async (name) => {
      await withCard(recipe(name), async (image) => {
        truncate(image, '300M');
        const rule = {
          'cluster-size': 'volume/cluster-size',
          gpt: 'card/partition-table',
          exfat: 'volume/file-system',
          'hidden-system-partition': 'card/hidden-system-partition',
        }[name];
        type(image, commandsFor(await checkCardFile(image, burr), rule ?? ''));
        copyFiles(image, 'burr_files');
        const report = await checkCardFile(image, burr);
        expect(weighty(report).map(({ rule }) => rule)).toEqual([]);
        expect(report.verdict).toBe('fit');
      });
    },
  );

  test('make a small card FAT16, as the step after them says', async () => {
    await withCard(recipe('gpt'), async (image) => {
      truncate(image, '64M');
      const commands = commandsFor(await checkCardFile(image, burr), 'card/partition-table');
      const small = commands.map((line) => line.replace('type=c', 'type=e').replace('-F 32', '-F 16'));
      expect(small).not.toEqual(commands);
      type(image, small);
      copyFiles(image, 'burr_files');
      expect((await checkCardFile(image, burr)).verdict).toBe('fit');
    });
  });

  test('make a card on which the loader of the Tansy finds its file', async () => {
    const tansy = { board: 'tansy', installed: '31', supply: 'small' };
    await withCard(recipe('cluster-size'), async (image) => {
      truncate(image, '300M');
      type(image, commandsFor(await checkCardFile(image, tansy), 'volume/file-system'));
      copyFiles(image, `put "$(bytes 20000)" TANSY.LKF\nput "$(text 'flash=yes\\n')" LARKGO.TXT`);
      const report = await checkCardFile(image, tansy);
      const ofTheCard = weighty(report).filter(({ rule }) => /^(card|volume|file|companion)\//.test(rule));
      expect(ofTheCard.map(({ rule }) => rule)).toEqual([]);
      const holding = report.findings.filter(({ outcome }) => outcome === 'holds').map(({ rule }) => rule);
      expect(holding).toEqual(
        expect.arrayContaining(['volume/file-system', 'volume/cluster-size', 'file/present', 'file/whole']),
      );
    });
  });

  test('clear the mark of a card that was not ejected', async () => {
    const options = { ...burr, change: 'refusesDirty: false => refusesDirty: true' };
    await withCard(recipe('not-ejected'), async (image) => {
      const commands = commandsFor(await checkCardFile(image, options), 'volume/clean-shutdown');
      expect(commands.some((line) => line.includes('fsck.fat'))).toBe(true);
      type(image, commands);
      expect((await checkCardFile(image, options)).verdict).toBe('fit');
    });
  });

  test('correct the count of free space', async () => {
    const options = { ...burr, change: 'fsInfo: false => fsInfo: true' };
    await withCard(recipe('free-count-believed'), async (image) => {
      type(image, commandsFor(await checkCardFile(image, options), 'volume/fs-info'));
      expect((await checkCardFile(image, options)).verdict).toBe('fit');
    });
  });

  test('take away start-up code and leave table and files', async () => {
    const options = { ...burr, change: 'bootCode: any => bootCode: must-be-zero' };
    await withCard(recipe('boot-code'), async (image) => {
      type(image, commandsFor(await checkCardFile(image, options), 'card/boot-code'));
      expect((await checkCardFile(image, options)).verdict).toBe('fit');
    });
  });

  test('erase the older of two descriptions, so that the card can be made anew', async () => {
    await withCard(recipe('two-descriptions'), async (image) => {
      truncate(image, '300M');
      type(image, commandsFor(await checkCardFile(image, burr), 'card/two-descriptions'));
      type(image, commandsFor(await checkCardFile(image, burr), 'card/partition-table'));
      copyFiles(image, 'burr_files');
      expect((await checkCardFile(image, burr)).verdict).toBe('fit');
    });
  });

  test.each([
    ['reserved-sectors', 'reservedSectors: any => reservedSectors: [1, 2, 4, 8]'],
    ['data-alignment', 'dataAlignment: any => dataAlignment: 16KiB'],
  ])('lay the volume out as the board wants it: volume/%s', async (name, change) => {
    const options = { ...burr, change };
    await withCard(recipe(name), async (image) => {
      type(image, commandsFor(await checkCardFile(image, options), `volume/${name}`));
      copyFiles(image, 'burr_files');
      expect((await checkCardFile(image, options)).verdict).toBe('fit');
    });
  });
});
