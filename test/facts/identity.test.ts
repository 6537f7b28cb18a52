import { describe, expect, test } from 'vitest';
import type { Candidate, Manifest } from '../../src/board/manifest.js';
import { findMarkers } from '../../src/board/markers.js';
import type { Build, Profile } from '../../src/board/profile.js';
import { resolveProfile } from '../../src/board/resolve.js';
import { collectIdentity, type IdentityFound } from '../../src/facts/collect-identity.js';
import { Absent, FactList, type FactValue, Unseen } from '../../src/facts/fact.js';
import { FactStore } from '../../src/facts/fact-store.js';
import type { Decoded } from '../../src/firmware/encodings/encoding.js';
import { intelHex } from '../../src/firmware/encodings/intel-hex.js';
import { raw } from '../../src/firmware/encodings/raw.js';
import { MemoryMap, singleSegment } from '../../src/firmware/memory-map.js';
import { type Machine, type MachineOptions, machineFromOptions } from '../../src/machine/machine.js';
import { sha256Hex } from '../../src/node/digests.js';
import { profileOf, sample } from '../board/profiles.js';

const tansy = sample('tansy');
const builds = tansy.builds as Build[];

/** An image with a marker in the middle; nothing else about it matters here. */
function image(text: string, length = 4096): Uint8Array {
  const bytes = Uint8Array.from({ length }, (_, index) => (index * 31 + text.length) % 253);
  bytes.set(new TextEncoder().encode(text), length / 2);
  return bytes;
}
const images = new Map(builds.map((build) => [build.id, image(build.marker?.text ?? '')]));
const manifest: Manifest = {
  schema: 'flashworthy-manifest/1',
  board: { id: 'tansy', revision: 7 },
  release: '31',
  files: [
    ...builds.map((build) => ({
      path: build.files[0]!,
      role: 'build' as const,
      build: build.id,
      bytes: 4096,
      crc32: '00000000',
      sha256: sha256Hex(images.get(build.id)!),
    })),
    {
      path: 'LARKGO.TXT',
      role: 'companion' as const,
      bytes: 5,
      crc32: '00000000',
      sha256: sha256Hex('go=1\n'),
    },
  ],
};
const candidates: Candidate[] = builds.map((build) => ({
  path: build.files[0]!,
  build: build.id,
  bytes: 4096,
  read: () => images.get(build.id)!,
}));

interface Given {
  bytes?: Uint8Array | null;
  decoded?: Decoded | null;
  sha256?: FactValue;
  profile?: Profile | null;
  manifest?: Manifest | null;
  options?: MachineOptions;
  candidates?: Candidate[];
}
function collect(given: Given): { store: FactStore; found: IdentityFound } {
  const profile = given.profile === undefined ? tansy : given.profile;
  const bytes = given.bytes === undefined ? images.get('full-newer')! : given.bytes;
  const machine: Machine | null = given.options ? machineFromOptions(given.options, profile).machine : null;
  const store = new FactStore();
  const found = collectIdentity(store, {
    bytes,
    sha256: given.sha256 ?? (bytes ? sha256Hex(bytes) : new Absent('there is no update file')),
    decoded:
      given.decoded === undefined
        ? bytes
          ? raw.decode(bytes, { loadAddress: 0x08010000 })
          : null
        : given.decoded,
    profile,
    resolved: profile ? resolveProfile(profile, machine) : null,
    manifest: given.manifest === undefined ? manifest : given.manifest,
    machine,
    candidates: given.candidates ?? candidates,
  });
  return { store, found };
}
/** Values for a look: known ones as they are, lists as arrays, the others as the word for their state. */
function look(store: FactStore, ...names: string[]): Record<string, unknown> {
  return Object.fromEntries(
    names.map((name) => {
      const value = store.value(`image.${name}`);
      if (value instanceof Unseen) return [name, `unseen: ${value.cause}`];
      if (value instanceof Absent) return [name, 'absent'];
      return [name, value instanceof FactList ? value.items : value];
    }),
  );
}
const small = { supply: 'small', installed: '31' };

describe('with a manifest', () => {
  test('the right build, whatever its name has become', () => {
    const { store, found } = collect({ options: { supply: 'large', installed: '31' } });
    expect(found.buildId).toBe('full-newer');
    expect(
      look(
        store,
        'build',
        'release',
        'isKnownBuild',
        'isForThisMachine',
        'isPreferred',
        'preferredBuild',
        'fitness',
      ),
    ).toEqual({
      build: 'full-newer',
      release: '31',
      isKnownBuild: true,
      isForThisMachine: true,
      isPreferred: true,
      preferredBuild: 'full-newer',
      fitness: 'safe',
    });
    expect(
      look(
        store,
        'unsafeBecause',
        'wrongBecause',
        'wrongAxes',
        'markerConflict',
        'siblingMarker',
        'nearMiss',
      ),
    ).toEqual({
      unsafeBecause: 'absent',
      wrongBecause: 'absent',
      wrongAxes: [],
      markerConflict: 'absent',
      siblingMarker: 'absent',
      nearMiss: 'absent',
    });
    expect(
      look(store, 'buildKind', 'buildNeedsVolts', 'buildNeedsAmps', 'buildMachines', 'releaseFile'),
    ).toEqual({
      buildKind: 'application',
      buildNeedsVolts: 24,
      buildNeedsAmps: 9,
      buildMachines: 'machines with the newer boot loader and a supply of 24 V and 9 A or more',
      releaseFile: 'builds/TANSY-150N.LKF',
    });
  });

  test('each of the four machines: each build is right, weaker, unsafe or wrong, for its own reason', () => {
    const machines: [MachineOptions, string][] = [
      [{ supply: 'small', installed: '31' }, 'limited-newer'],
      [{ supply: 'small', installed: '20' }, 'limited-older'],
      [{ supply: 'large', installed: '31' }, 'full-newer'],
      [{ supply: 'large', installed: '20' }, 'full-older'],
    ];
    for (const [options, preferred] of machines) {
      const fit = builds.filter((build) => {
        const { store } = collect({ bytes: images.get(build.id)!, options });
        const isStrong = build.needs?.amps === 9;
        const isNewer = build.id.endsWith('newer');
        const tooStrong = isStrong && options.supply === 'small';
        const otherLoader = isNewer !== (options.installed === '31');
        const where = `${build.id} on ${JSON.stringify(options)}`;
        expect(typeof store.value('image.unsafeBecause') === 'string', where).toBe(tooStrong);
        expect(typeof store.value('image.wrongBecause') === 'string', where).toBe(otherLoader);
        expect(look(store, 'wrongAxes').wrongAxes, where).toEqual(otherLoader ? ['loader'] : []);
        expect(store.value('image.isForThisMachine'), where).toBe(!tooStrong && !otherLoader);
        expect(store.value('image.isPreferred'), where).toBe(build.id === preferred);
        return store.value('image.isPreferred') === true;
      });
      expect(fit.map((build) => build.id)).toEqual([preferred]);
    }
  });

  test('the reasons are sentences that name the build', () => {
    const { store } = collect({ bytes: images.get('full-older')!, options: small });
    expect(look(store, 'fitness', 'unsafeBecause', 'wrongBecause')).toEqual({
      fitness: 'unsafe',
      unsafeBecause: 'the build full-older needs a supply of 24 V and 9 A; this machine has 6.5 A',
      wrongBecause: 'the build full-older is for the older boot loader; this machine has the newer one',
    });
  });

  test('what was not told is not guessed, and the fact says what to tell', () => {
    const { store } = collect({ options: { installed: '31' } });
    expect(
      look(store, 'isKnownBuild', 'isForThisMachine', 'unsafeBecause', 'wrongBecause', 'preferredBuild'),
    ).toEqual({
      isKnownBuild: true,
      isForThisMachine: 'unseen: not-told',
      unsafeBecause: 'unseen: not-told',
      wrongBecause: 'absent',
      preferredBuild: 'unseen: not-told',
    });
    expect(store.value('image.isForThisMachine')).toMatchObject({
      settle: 'read the label of the supply and say it: --supply 24V/6.5A, or --supply unsure',
    });
    const other = collect({ options: { supply: 'large' } }).store;
    expect(other.value('image.isForThisMachine')).toMatchObject({
      cause: 'not-told',
      settle: 'say which release runs now: --installed RELEASE',
    });
    expect(collect({}).store.value('image.isForThisMachine')).toBeInstanceOf(Unseen);
  });

  test('one byte changed: no known build, and the place is named', () => {
    const bytes = images.get('full-newer')!.slice();
    bytes[3000]! ^= 1;
    const { store } = collect({ bytes, options: { supply: 'large', installed: '31' } });
    expect(
      look(
        store,
        'isKnownBuild',
        'build',
        'release',
        'isForThisMachine',
        'nearMissKind',
        'nearMissAt',
        'nearMissFile',
      ),
    ).toEqual({
      isKnownBuild: false,
      build: 'absent',
      release: 'absent',
      isForThisMachine: 'unseen: not-visible',
      nearMissKind: 'changed',
      nearMissAt: 3000,
      nearMissFile: 'builds/TANSY-150N.LKF',
    });
    expect(store.value('image.nearMiss')).toBe(
      'is builds/TANSY-150N.LKF, damaged: one byte of it differs, the first at offset 3000',
    );
    // Its marker still says what it was meant to be: on the small supply that is enough to refuse it.
    expect(collect({ bytes, options: small }).store.value('image.isForThisMachine')).toBe(false);
  });

  test('cut short, and without the published files at hand', () => {
    const bytes = images.get('full-newer')!.slice(0, 3000);
    expect(look(collect({ bytes }).store, 'nearMissKind', 'nearMissAt')).toEqual({
      nearMissKind: 'truncated',
      nearMissAt: 3000,
    });
    const { store } = collect({ bytes: image('something else'), candidates: [] });
    expect(look(store, 'nearMiss', 'sameSizeAs')).toEqual({
      nearMiss: 'unseen: not-visible',
      sameSizeAs: builds.map((build) => build.files[0]),
    });
  });

  test('another file of the release is no build', () => {
    const { store } = collect({ bytes: new TextEncoder().encode('go=1\n'), decoded: null });
    expect(look(store, 'isKnownBuild', 'releaseFile', 'releaseFileRole', 'markerBuilds', 'build')).toEqual({
      isKnownBuild: false,
      releaseFile: 'LARKGO.TXT',
      releaseFileRole: 'companion',
      markerBuilds: 'absent',
      build: 'absent',
    });
  });

  test('a further file of a build is not what the loader is given', () => {
    const two = { ...tansy, builds: [{ ...builds[0]!, files: ['builds/OTHER.LKF', builds[0]!.files[0]!] }] };
    expect(collect({ profile: two }).store.value('image.isKnownBuild')).toBe(false);
  });

  test('the marker of another build in a file that is this one', () => {
    const bytes = image('LKF-TANSY-065N');
    const files = [{ ...manifest.files[0]!, sha256: sha256Hex(bytes) }];
    const { store } = collect({ bytes, manifest: { ...manifest, files } });
    expect(look(store, 'build', 'markerBuilds', 'markerConflict', 'isKnownBuild')).toEqual({
      build: 'full-newer',
      markerBuilds: ['limited-newer'],
      markerConflict: 'limited-newer',
      isKnownBuild: true,
    });
  });

  test('a build that the profile does not know', () => {
    const files = [{ ...manifest.files[0]!, build: 'newest' }];
    const { store, found } = collect({ manifest: { ...manifest, files }, options: small });
    expect(found.buildId).toBe('newest');
    expect(look(store, 'isKnownBuild', 'isForThisMachine')).toEqual({
      isKnownBuild: true,
      isForThisMachine: 'unseen: profile-silent',
    });
  });
});

describe('without a manifest', () => {
  test('the marker says what a file seems to be, and proves nothing', () => {
    const { store, found } = collect({
      manifest: null,
      candidates: [],
      options: { supply: 'large', installed: '31' },
    });
    expect(found.buildId).toBe('full-newer');
    expect(look(store, 'build', 'release', 'isKnownBuild', 'isForThisMachine', 'fitness')).toEqual({
      build: 'full-newer',
      release: 'unseen: not-visible',
      isKnownBuild: 'unseen: not-visible',
      isForThisMachine: 'unseen: not-visible',
      fitness: 'safe',
    });
    expect(store.value('image.isKnownBuild')).toMatchObject({
      settle: 'name the release folder: --board FOLDER, or its manifest: --manifest FILE',
    });
  });

  test('a marker of a build that the supply cannot feed is enough to refuse', () => {
    const { store } = collect({ manifest: null, options: small });
    expect(store.value('image.isForThisMachine')).toBe(false);
  });

  test('two markers: neither is believed', () => {
    const bytes = image('LKF-TANSY-150N and LKF-TANSY-065N');
    const { store, found } = collect({ bytes, manifest: null });
    expect(found.buildId).toBeNull();
    expect(look(store, 'build', 'markerBuilds', 'isForThisMachine')).toEqual({
      build: 'unseen: not-visible',
      markerBuilds: ['full-newer', 'limited-newer'],
      isForThisMachine: 'unseen: not-visible',
    });
  });

  test('the marker of another board', () => {
    const { store } = collect({ bytes: image('xxLKF-TWINxx'), manifest: null });
    expect(look(store, 'siblingMarker', 'siblingTitle', 'markerBuilds')).toEqual({
      siblingMarker: 'tansy-twin',
      siblingTitle: 'Tansy with two hot ends',
      markerBuilds: [],
    });
  });
});

describe('nothing to look at', () => {
  test('no file, a damaged one, a file over the limit', () => {
    const paths = ['build', 'isKnownBuild', 'isForThisMachine', 'markerBuilds', 'nearMiss'] as const;
    for (const value of Object.values(look(collect({ bytes: null }).store, ...paths)))
      expect(value).toBe('absent');
    const damaged = collect({ bytes: null, sha256: new Unseen('damaged', 'it could not be read') });
    for (const value of Object.values(look(damaged.store, ...paths))) expect(value).toBe('unseen: damaged');
    const large = collect({ bytes: null, sha256: 'ab'.repeat(32) });
    for (const value of Object.values(look(large.store, ...paths))) expect(value).toBe('unseen: over-limit');
    // Which build the machine wants does not depend on the file.
    expect(collect({ bytes: null, options: small }).store.value('image.preferredBuild')).toBe(
      'limited-newer',
    );
  });

  test('no profile; a profile that takes every build; one that names none', () => {
    expect(
      look(collect({ profile: null }).store, 'isKnownBuild', 'isForThisMachine', 'preferredBuild'),
    ).toEqual({
      isKnownBuild: true,
      isForThisMachine: 'unseen: profile-silent',
      preferredBuild: 'unseen: profile-silent',
    });
    const any = collect({ profile: sample('burr'), manifest: null }).store;
    expect(look(any, 'isKnownBuild', 'isForThisMachine', 'preferredBuild', 'build')).toEqual({
      isKnownBuild: 'absent',
      isForThisMachine: 'absent',
      preferredBuild: 'absent',
      build: 'absent',
    });
    const silent = collect({ profile: profileOf(''), manifest: null }).store;
    expect(look(silent, 'isKnownBuild', 'isForThisMachine')).toEqual({
      isKnownBuild: 'unseen: not-visible',
      isForThisMachine: 'unseen: profile-silent',
    });
  });

  test('a scrambled program shows no markers', () => {
    const decoded = { ...raw.decode(images.get('full-newer')!), encoding: 'scrambled' as const };
    expect(
      look(collect({ decoded, manifest: null }).store, 'markerBuilds', 'siblingMarker', 'build'),
    ).toEqual({
      markerBuilds: 'unseen: not-visible',
      siblingMarker: 'unseen: not-visible',
      build: 'unseen: not-visible',
    });
  });

  test('the list of markers of a program that is not whole may lack some', () => {
    const decoded = { ...raw.decode(image('nothing')), whole: false };
    const { store } = collect({ decoded, bytes: image('nothing'), manifest: null });
    expect((store.value('image.markerBuilds') as FactList).incomplete?.cause).toBe('damaged');
    expect(look(store, 'siblingMarker')).toEqual({ siblingMarker: 'unseen: damaged' });
  });
});

describe('markers', () => {
  const clinker = sample('clinker');
  const at = (text: string, offset: number, start = 0x10000): MemoryMap => {
    const bytes = new Uint8Array(1024);
    bytes.set(new TextEncoder().encode(text), offset);
    return singleSegment(start, bytes);
  };

  test('a marker with an offset counts there only', () => {
    expect(findMarkers(clinker, at('CLINKER/C', 0x200), 0x10000).builds).toEqual(['clinker-c']);
    expect(findMarkers(clinker, at('CLINKER/C', 0x204), 0x10000).builds).toEqual([]);
    expect(findMarkers(clinker, at('TALLKILN/', 0x200), 0x10000).siblings).toEqual([
      { id: 'clinker-tall', title: 'Clinker with the tall chamber' },
    ]);
  });

  test('the offset counts from the start of the area too, when the boot loader is in front', () => {
    const whole = at('CLINKER/AB', 0x210, 0xfff0);
    expect(findMarkers(clinker, whole, 0x10000).builds).toEqual(['clinker-ab']);
    expect(findMarkers(clinker, whole, undefined).builds).toEqual([]);
  });

  test('through the records of an Intel HEX file, as printed in its lines', () => {
    // One record of 16 bytes at 0x10200: CLINKER/C and zeros; checksums by hand (two's complement of the sum).
    const data = [...new TextEncoder().encode('CLINKER/C')];
    const row = [0x10, 0x02, 0x00, 0x00, ...data, ...new Array<number>(7).fill(0)];
    const check = (256 - (row.reduce((sum, byte) => sum + byte, 0) % 256)) % 256;
    const hex = [...row, check].map((byte) => byte.toString(16).padStart(2, '0').toUpperCase()).join('');
    const file = new TextEncoder().encode(`:020000040001F9\n:0100000000FF\n:${hex}\n:00000001FF\n`);
    const decoded = intelHex.decode(file);
    expect(decoded.whole).toBe(true);
    expect(findMarkers(clinker, decoded.map, 0x10000).builds).toEqual(['clinker-c']);
  });

  test('a part of a longer marker counts for the longer one alone', () => {
    const profile = profileOf(`
builds:
  - { id: short, title: S, kind: application, files: [s], marker: { text: BOARD-1 } }
  - { id: long, title: L, kind: application, files: [l], marker: { text: BOARD-15 } }
`);
    expect(findMarkers(profile, at('BOARD-15', 100), undefined).builds).toEqual(['long']);
    expect(findMarkers(profile, at('BOARD-1', 100), undefined).builds).toEqual(['short']);
    expect(findMarkers(profile, at('BOARD-15 BOARD-1', 100), undefined).builds).toEqual(['short', 'long']);
  });

  test('a marker does not reach across a gap, nor past the end', () => {
    const map = new MemoryMap([
      { start: 0, bytes: new TextEncoder().encode('LKF-TANSY-') },
      { start: 100, bytes: new TextEncoder().encode('150N') },
    ]);
    expect(findMarkers(tansy, map, undefined).builds).toEqual([]);
    expect(findMarkers(tansy, singleSegment(0, new TextEncoder().encode('LKF-TANSY-150')), 0).builds).toEqual(
      [],
    );
    expect(
      findMarkers(tansy, singleSegment(0, new TextEncoder().encode('LKF-TANSY-150N')), 0).builds,
    ).toEqual(['full-newer']);
    expect(findMarkers(tansy, new MemoryMap([]), 0)).toEqual({ builds: [], siblings: [] });
  });
});
