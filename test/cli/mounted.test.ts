import { spawnSync } from 'node:child_process';
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Conversation } from '../../src/cli/ask.js';
import { CommandProblem } from '../../src/cli/exit.js';
import { onlyCard } from '../../src/cli/only-card.js';
import { openCardDevice } from '../../src/cli/open-device.js';
import { openMounted } from '../../src/cli/open-folder.js';
import { Unseen } from '../../src/facts/fact.js';
import { linuxSystem } from '../../src/node/systems/linux.js';
import { nothingTold } from '../../src/node/systems/nothing-told.js';
import type { CardSystem, DeviceDetails, ListedCard, MountedVolume } from '../../src/node/systems/system.js';
import { run, sfdisk } from '../support/disk-images.js';
import { mayMount, withLoop, withMount } from '../support/loop-device.js';
import { runCommand } from '../support/run-command.js';

const root = join(import.meta.dirname, '..', '..');
const program = join(root, 'dist', 'flashworthy.js');
const release = join(root, 'samples/releases/tansy-31');
const burr = ['--board', join(root, 'samples/boards/burr.yaml'), '--set', 'panel=none'];

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'flashworthy-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const line = (card: string): string => `flashworthy check ${card} --board b`;
const system = (parts: Partial<CardSystem>): CardSystem => ({
  volumeOf: () => null,
  cards: () => ({ cards: [], incomplete: null }),
  ...parts,
});

/** The exit code and the words with which a command ends. */
function ending(use: () => unknown): string {
  try {
    use();
  } catch (error) {
    if (error instanceof CommandProblem) return `${error.exit}: ${error.message}`;
    throw error;
  }
  return 'went on';
}

describe('a folder', () => {
  const told = (more: Partial<MountedVolume>): MountedVolume => ({
    ...nothingTold(folder, null, 'not told'),
    driver: 'vfat',
    ...more,
  });
  const at = (path: string, volume: MountedVolume | null): string =>
    ending(() => openMounted(path, system({ volumeOf: () => volume }), line).close());

  it('must be the root of a volume, which is named with the line to type', () => {
    const inside = join(folder, 'inside');
    mkdirSync(inside, { recursive: true });
    expect(at(inside, told({}))).toBe(
      `64: ${inside} is a folder inside a volume, not a card. For files that are not on a card, did you mean --staging? The volume begins at ${folder}; if that is the card, say: ${line(folder)}`,
    );
    expect(at(inside, told({ root: '/' }))).toMatch(/^64: .*did you mean --staging\?$/);
    expect(at(folder, null)).toMatch(/^64: .*does not tell on which card.*--staging/);
    expect(at(folder, told({ part: { folder: '/x', wholeAt: '/media/whole' } }))).toMatch(
      /^64: .*only the folder \/x .*say: flashworthy check \/media\/whole/,
    );
    expect(at(folder, told({ part: { folder: '/x', wholeAt: null } }))).toMatch(
      /^64: .*did you mean --staging\?$/,
    );
    for (const driver of ['tmpfs', 'proc', 'overlay'])
      expect(at(folder, told({ driver }))).toMatch(/^64: .*no card/);
    expect(at(folder, told({}))).toBe('went on');
    // Another path to the same folder is the same.
    expect(at(`${folder}/inside/..`, told({}))).toBe('went on');
  });
});

describe('a device', () => {
  const details: DeviceDetails = { readFrom: '/nowhere', bytes: 1024, sectorBytes: 512, isWhole: true };
  const of = (more: Partial<DeviceDetails> | null, path = '/dev/sdb'): string =>
    ending(() =>
      openCardDevice(
        path,
        system({ deviceOf: () => (more === null ? null : { ...details, ...more }) }),
        line,
      ).close(),
    );

  it('must be a whole card of a size that is known', () => {
    expect(of({ isWhole: false, card: '/dev/sdb' }, '/dev/sdb1')).toBe(
      `64: /dev/sdb1 is one partition of a card, from which its partition table cannot be seen: name the whole card: ${line('/dev/sdb')}`,
    );
    expect(of({ isWhole: false })).toMatch(/^64: .*name the whole card$/);
    expect(of({ bytes: 0 })).toBe('66: /dev/sdb: there is no card in this device');
    expect(of({ bytes: new Unseen('not-visible', 'nobody tells its size') })).toMatch(
      /^66: .*nobody tells its size.*make an image/,
    );
    expect(of(null)).toMatch(/^64: .*make an image/);
    expect(ending(() => openCardDevice('/dev/sdb', system({}), line))).toMatch(/^64: .*make an image/);
  });

  it.runIf(mayMount)(
    'that may not be read says which line to type, and what to do without rights',
    async () => {
      const image = join(folder, 'locked.img');
      writeFileSync(image, gunzipSync(readFileSync(join(root, 'samples/cards/burr-good.img.gz'))));
      await withLoop(image, (device) => {
        // For the time of the call an ordinary user: nobody has the number 65534 on Debian.
        process.seteuid?.(65534);
        try {
          expect(ending(() => openCardDevice(device, linuxSystem(), line).close())).toBe(
            `66: ${device} may be read by an administrator only. Say: sudo ${line(device)}. Without those rights, open the card in the file manager and check the folder under which it is shown; flashworthy cards names it`,
          );
        } finally {
          process.seteuid?.(0);
        }
      });
    },
  );
});

describe('check without a card', () => {
  const card = (target: string, more: Partial<ListedCard> = {}): ListedCard => ({
    target,
    device: '/dev/sdb',
    title: 'Card Reader',
    bytes: 31_914_983_424,
    fileSystem: 'FAT32',
    label: 'CARD',
    mountedAt: target,
    ...more,
  });
  const answering = (answer: string | null): Conversation & { asked: string } => ({
    asked: '',
    async ask(text) {
      this.asked = text;
      return answer;
    },
    end() {},
  });
  const problem = async (cards: ListedCard[], conversation: Conversation | null): Promise<string> => {
    try {
      return await onlyCard(cards, conversation, line);
    } catch (error) {
      if (error instanceof CommandProblem) return `${error.exit}: ${error.message}`;
      throw error;
    }
  };

  it('names the only one where nobody can answer', async () => {
    expect(await problem([], null)).toMatch(/^64: name a card to check; there is no removable card/);
    expect(await problem([card('/media/you/CARD')], null)).toBe(
      `64: name a card to check; there is one in this computer: ${line('/media/you/CARD')}`,
    );
    expect(await problem([card('/media/a'), card('/media/b')], null)).toMatch(
      /there are 2 .*\/media\/a .*, or: .*\/media\/b /,
    );
  });

  it('asks on a terminal, and takes no answer for no', async () => {
    const yes = answering('y');
    expect(await problem([card('/media/you/CARD')], yes)).toBe('/media/you/CARD');
    expect(yes.asked).toBe(
      '\nThe only card in this computer is /media/you/CARD (CARD, 32 GB).\nCheck it? y, or Enter alone for no: ',
    );
    for (const answer of ['', 'n', null, '1'])
      expect(await problem([card('/media/a')], answering(answer))).toMatch(/^64: /);
    const two = [card('/media/a'), card('/dev/sdc', { label: null, bytes: null, title: null })];
    const second = answering('2');
    expect(await problem(two, second)).toBe('/dev/sdc');
    expect(second.asked).toContain('  2  /dev/sdc\n');
    for (const answer of ['', '0', '3', 'y', '1e0', null])
      expect(await problem(two, answering(answer))).toMatch(/^64: /);
  });

  it('does not let a name break the terminal', async () => {
    const asked = answering('');
    await problem([card('/media/a', { label: 'A\u001b[2J\nB' })], asked);
    expect(asked.asked).not.toMatch(/\u001b|A\n/);
  });
});

describe.runIf(mayMount)('real mounts and devices', () => {
  /** Everything that a run opens, with the flags. */
  const traced = (
    args: string[],
  ): { status: number | null; out: string; opened: [path: string, flags: string][]; calls: string } => {
    const log = join(folder, 'strace.log');
    const { status, stdout } = spawnSync(
      'strace',
      [
        '-f',
        '-o',
        log,
        '-e',
        'trace=open,openat,openat2,creat,write,pwrite64,unlink,rename,mkdir,truncate,ftruncate,mount,ioctl',
        process.execPath,
        program,
        'check',
        ...args,
      ],
      { encoding: 'utf8', env: { ...process.env, NODE_COMPILE_CACHE: '' } },
    );
    const calls = readFileSync(log, 'utf8');
    const opened = [...calls.matchAll(/open(?:at|at2)?\((?:AT_FDCWD, )?"([^"]+)", ([A-Z_|]+)/g)].map(
      ([, path = '', flags = '']): [string, string] => [path, flags],
    );
    return { status, out: stdout, opened, calls };
  };
  /** Places outside the package and the target that a run may look at: the system's tables, and what Node itself needs. */
  const ofTheSystem =
    /^(?:\/proc\/|\/sys\/|\/run\/udev\/|\/dev\/(?:null|urandom|random)$|\/etc\/|\/lib|\/usr\/|\/dev\/pts\/|\/cgroup)/;

  it.each([
    ['a mounted folder', true],
    ['a device', false],
  ])('%s is only read, and nothing else is looked at', async (_name, isFolder) => {
    const image = join(folder, `traced-${isFolder}.img`);
    writeFileSync(image, '');
    truncateSync(image, 24 * 1024 * 1024);
    if (isFolder) run('mke2fs', ['-q', '-F', '-t', 'ext4', image]);
    else {
      sfdisk(image, ['start=2048, type=6']);
      run('mkfs.fat', ['-F', '16', '--offset', '2048', image, String(23 * 1024)]);
    }
    await withLoop(
      image,
      async (device) => {
        const check = (target: string): void => {
          const { status, opened, calls } = traced([target, ...burr]);
          expect(status).toBe(1);
          expect(
            opened
              .filter(
                ([, flags]) =>
                  /O_WRONLY|O_RDWR|O_CREAT|O_TRUNC|O_APPEND/.test(flags) && !/O_PATH/.test(flags),
              )
              .filter(([path]) => path !== '/dev/null'),
          ).toEqual([]);
          expect(calls).not.toMatch(
            /^\d+ +(?:creat|unlink|rename|mkdir|truncate|ftruncate|mount|pwrite64)\(/m,
          );
          expect(calls).not.toMatch(/ioctl\([^)]*BLK(?!GETSIZE|SSZGET)/);
          const paths = opened.map(([path]) => path);
          const allowed = (path: string): boolean =>
            path.startsWith(join(root, 'dist')) ||
            path === root ||
            path === join(root, 'package.json') ||
            path === join(root, 'samples/boards/burr.yaml') ||
            path === target ||
            path.startsWith(`${target}/`) ||
            path === device ||
            ofTheSystem.test(path) ||
            // Node looks for the kind of a package in the folders above its program.
            /\/package\.json$/.test(path) ||
            path === process.execPath;
          expect(paths.filter((path) => !allowed(path))).toEqual([]);
          expect(paths).toContain(device);
        };
        if (!isFolder) return check(device);
        const mounted = join(folder, 'traced');
        await withMount(['mount', device], mounted, () => {
          mkdirSync(join(mounted, 'BURR'));
          writeFileSync(join(mounted, 'BURR/MILL.UF2'), 'x');
          check(mounted);
        });
      },
      isFolder ? [] : ['-r'],
    );
  });

  it('a FAT volume behind FUSE is not proven, with three ways on', async () => {
    const image = join(folder, 'fuse.img');
    // The volume of the sample card without the table before it.
    writeFileSync(
      image,
      gunzipSync(readFileSync(join(root, 'samples/cards/tansy-fit.img.gz'))).subarray(1024 * 1024),
    );
    const mounted = join(folder, 'fuse');
    await withMount(['fusefat', '-o', 'ro', image], mounted, async () => {
      const json = join(folder, 'fuse.json');
      const machine = ['--installed', '30', '--supply', '24V/6.5A'];
      const { code, out, notes } = await runCommand(
        'check',
        mounted,
        '--board',
        release,
        ...machine,
        '--report',
        `json=${json}`,
      );
      expect({ code, notes }).toEqual({ code: 2, notes: [] });
      expect(out).toMatch(/^NOT PROVEN/);
      expect(out).toContain('Three ways to find out the rest');
      expect(out).toContain(`        sudo flashworthy check /dev/sdX --board ${release}`);
      expect(out).toContain('THIS ERASES THE CARD.');
      // The file itself came whole, and is the published one.
      const report = JSON.parse(readFileSync(json, 'utf8'));
      expect(report.facts.image.build).toBe('limited-newer');
      expect(report.unseen['volume.clusterBytes'].text).toMatch(/fusefat/);
      expect(report.target.kind).toBe('folder');
    });
    expect(existsSync(join(mounted, 'TANSY.LKF'))).toBe(false);
  });
});
