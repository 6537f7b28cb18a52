/**
 * The schema of facts: every path that a rule may name, its type, unit and meaning. Rules are type-checked against
 * it when they are loaded, reports are described by it, and a fact that is not declared here cannot be set.
 * Sizes, offsets and addresses are plain numbers in bytes.
 */

import { hazards } from '../rules/rule.js';

export type FactType =
  | 'bool'
  | 'int'
  | 'double'
  | 'string'
  /** A number in one place and a text in another: only comparing for equality makes sense. */
  | 'dyn'
  | 'list<int>'
  | 'list<string>'
  | 'list<record>';

export interface FactDeclaration {
  readonly type: FactType;
  readonly unit?: string;
  /** One plain sentence. */
  readonly meaning: string;
  /** The fixed vocabulary; comparing with any other word is a load error. */
  readonly words?: readonly string[];
  /** Fields of each item of a `list<record>`. */
  readonly item?: Readonly<Record<string, FactDeclaration>>;
}

const bool = (meaning: string): FactDeclaration => ({ type: 'bool', meaning });
const int = (meaning: string, unit?: string): FactDeclaration => ({
  type: 'int',
  meaning,
  ...(unit ? { unit } : {}),
});
const bytes = (meaning: string): FactDeclaration => int(meaning, 'bytes');
const text = (meaning: string): FactDeclaration => ({ type: 'string', meaning });
const word = (words: readonly string[], meaning: string): FactDeclaration => ({
  type: 'string',
  words,
  meaning,
});
const words = (list: readonly string[], meaning: string): FactDeclaration => ({
  type: 'list<string>',
  words: list,
  meaning,
});
const texts = (meaning: string): FactDeclaration => ({ type: 'list<string>', meaning });
const ints = (meaning: string, unit?: string): FactDeclaration => ({
  type: 'list<int>',
  meaning,
  ...(unit ? { unit } : {}),
});
const double = (meaning: string, unit: string): FactDeclaration => ({ type: 'double', meaning, unit });
const records = (meaning: string, item: Record<string, FactDeclaration>): FactDeclaration => ({
  type: 'list<record>',
  meaning,
  item,
});

/** File systems known by name; `not recognised` is a value of its own, `empty` a volume whose start is blank. */
export const fileSystems = [
  'FAT12',
  'FAT16',
  'FAT32',
  'exFAT',
  'NTFS',
  'ext2',
  'ext3',
  'ext4',
  'HFS',
  'HFS+',
  'APFS',
  'ISO9660',
  'UDF',
  'F2FS',
  'XFS',
  'Btrfs',
  'swap',
  'LUKS',
  'BitLocker',
  'ReFS',
  'squashfs',
  'EROFS',
  'JFS',
  'ReiserFS',
  'LVM2',
  'Minix',
  'UBI',
  'empty',
  'not recognised',
] as const;
export type FileSystemName = (typeof fileSystems)[number];

export const encodings = [
  'raw',
  'intel-hex',
  's-record',
  'uf2',
  'elf',
  'esp-image',
  'dfuse',
  'packed-gzip',
  'scrambled',
] as const;

export const capacityClasses = ['SDSC', 'SDHC', 'SDXC', 'SDUC'] as const;

const problem = {
  code: text('what is wrong, as one hyphenated word'),
  text: text('what is wrong, in a plain sentence'),
  at: bytes('where on the medium'),
};

/** What is wrong with the volume's structures, one list item each: what `fsck.fat` would repair. */
const damageItem = {
  kind: word(
    [
      'boot-sector',
      'fat-size',
      'fat-copies-differ',
      'boot-backup-differs',
      'loop',
      'cross-link',
      'lost-clusters',
      'short-chain',
      'long-chain',
      'into-free',
      'into-bad',
      'out-of-range',
      'bad-entry',
      'bad-folder',
      'duplicate-name',
      'orphan-long-name',
      'long-name-checksum',
      'fat-start',
    ],
    'the kind of damage',
  ),
  text: text('what is wrong, in a plain sentence'),
  path: text('the file or folder it touches; absent when none'),
  at: bytes('where on the medium; absent when not one place'),
  touchesUpdateFile: bool('true when the update file, its folder or its FAT entries are touched'),
};

/** What is wrong with one file of a build. */
const releaseFault = {
  path: text('path of the file'),
  build: text('id of the build'),
  found: text('what was found'),
  needed: text('what was needed'),
  rule: text('the rule of a card that the file would fail; absent when there is none'),
};

export const factSchema: Readonly<Record<string, FactDeclaration>> = {
  // ---- the target -----------------------------------------------------------------------------------------
  'target.kind': word(['image', 'device', 'folder', 'staging', 'release'], 'what was given to check'),
  'target.view': word(['medium', 'cached'], 'the medium itself, or what the computer remembers of it'),
  'target.path': text('the path that was given'),
  'target.changed': bool('true when the target changed while it was read'),
  'target.showsMedium': bool(
    'true when the bytes of the card itself were read, false when only its files were',
  ),
  'target.readsFat': word(
    ['first', 'active'],
    'the copy of the FAT along which the files came; absent when every copy was looked at',
  ),
  'target.card': text('the whole card as this computer names it; absent when it has no name of its own'),

  'media.bytes': bytes('size of the medium; of a compressed image, the size of the image inside'),
  'media.sectorBytes': bytes('size of a sector of the medium'),
  'media.cardSize': text('size printed on the real card'),
  'media.capacityClass': word(capacityClasses, 'capacity family of the real card'),
  'media.possibleClasses': words(
    capacityClasses,
    'capacity families that the real card can be of: one when its size is known, more for an image file',
  ),
  'media.leastCardBytes': bytes(
    'the real card holds at least so many bytes: its own size, what the owner says, or the size of the image',
  ),
  'media.mostCardBytes': bytes('the real card holds no more bytes than this; absent when nobody says'),
  'media.history': word(
    ['fresh', 'used'],
    'what the owner says: formatted just now and these files copied once, or not',
  ),
  'media.reinserted': bool('what the owner says: ejected, put back and checked again'),
  'media.readErrors': records('stretches that could not be read', {
    at: bytes('first byte'),
    length: bytes('length of the stretch'),
    cause: text('why'),
    inMetadata: bool('true when partition table, boot sector, FAT or folders are touched'),
    inUpdateFile: bool('true when the update file is touched'),
  }),
  'media.wholeRead': bool('all that was asked of the medium was read'),
  'media.container': word(['none', 'gzip'], 'how the image file is packed'),
  'media.containerProblems': records('what is odd about the packing', problem),

  // ---- the partition table --------------------------------------------------------------------------------
  'partitionTable.scheme': word(['mbr', 'gpt', 'hybrid', 'none'], 'the kind of partition table'),
  'partitionTable.possibleSchemes': words(
    ['mbr', 'gpt', 'hybrid', 'none'],
    'kinds that the table can be of: one when it was read, more when the computer tells no difference',
  ),
  'partitionTable.entries': records('used entries, in the order of the table', {
    index: int('number of the entry, from 1'),
    kind: word(['primary', 'extended', 'logical', 'gpt'], 'where the entry stands'),
    type: { type: 'dyn', meaning: 'type byte in an MBR, type GUID in a GPT' },
    typeName: text('what the type means'),
    bootFlag: int('boot flag byte of an MBR entry; absent in a GPT'),
    startByte: bytes('first byte on the medium'),
    bytes: bytes('length'),
    pastEnd: bool('true when it runs past the end of the medium'),
    overlaps: bool(
      'true when it shares bytes with another entry (not an extended one with its own logical ones)',
    ),
    fileSystem: word(fileSystems, 'file system found at its start'),
    taken: bool('true for the entry that this loader takes'),
  }),
  'partitionTable.problems': records('what is wrong with the table itself', problem),
  'partitionTable.bootCode': bool('true when any of the first 440 bytes of the medium is not zero'),
  'partitionTable.bothDescribed': bool(
    'true when sector 0 by itself is at once a sound boot sector and a sound partition table',
  ),

  'partition.index': int(
    'number of the entry that this loader takes, from 1; absent when it takes the whole card',
  ),
  'partition.kind': word(['primary', 'extended', 'logical', 'gpt'], 'where that entry stands'),
  'partition.type': { type: 'dyn', meaning: 'type byte in an MBR, type GUID in a GPT' },
  'partition.bootFlag': int('boot flag byte of an MBR entry'),
  'partition.startByte': bytes('first byte on the medium'),
  'partition.bytes': bytes('length'),
  'partition.pastEnd': bool('true when it runs past the end of the medium'),
  'partition.overlaps': bool('true when it shares bytes with another entry'),
  'partition.found': bool('the volume that this loader takes was found'),
  'partition.othersUsed': int('used entries besides this one'),

  // ---- the volume -----------------------------------------------------------------------------------------
  'volume.fileSystem': word(fileSystems, 'file system of the volume that this loader takes'),
  'volume.startByte': bytes('first byte of the volume on the medium'),
  'volume.bytesPerSector': bytes('bytes in a sector, as the boot sector says'),
  'volume.clusterBytes': bytes('bytes in a cluster (allocation unit)'),
  'volume.clusterCount': int('data clusters'),
  'volume.freeClusters': int('clusters that the FAT marks free'),
  'volume.fatCount': int('copies of the FAT'),
  'volume.bytes': bytes('size of the volume, as the boot sector says'),
  'volume.reservedSectors': int('sectors before the first FAT'),
  'volume.dataStartByte': bytes('first byte of cluster 2 on the medium'),
  'volume.rootStartByte': bytes('first byte of the root folder on the medium'),
  'volume.rootEntryCapacity': int('entries that the root folder can hold; absent where it grows (FAT32)'),
  'volume.rootEntriesUsed': int(
    '32-byte slots of the root folder up to its end mark, deleted and long-name ones too',
  ),
  'volume.rootEntries': int('files and folders in the root folder'),
  'volume.label': text('volume label'),
  'volume.labelEntryName': text('the eleven bytes of the label entry in the root folder, as a short name'),
  'volume.serial': text('volume serial number, 8 hexadecimal digits'),
  'volume.cleanShutdown': bool('false when either dirty mark is set'),
  'volume.hardErrorsNoted': bool('true when a driver has noted read errors on this volume'),
  'volume.fatCopiesMatch': bool('all copies of the FAT hold the same entries'),
  'volume.mirroring': bool('true when every FAT copy is kept up to date (FAT32 extended flags)'),
  'volume.bootBackupMatches': bool('geometry of the backup boot sector equals that of the first'),
  'volume.widthByDriver': texts(
    'FAT width that real drivers would decide for this cluster count and layout, where they disagree: "driver: FAT16"',
  ),
  'volume.widthDisputed': bool('true when drivers disagree about the FAT width of this volume'),
  'volume.widthByFatfs': word(
    ['FAT12', 'FAT16', 'FAT32', 'refused'],
    'FAT width that the driver called fatfs decides',
  ),
  'volume.endsInsidePartition': bool('the volume is not longer than its partition and the medium'),
  'volume.residues': records('signatures of other file systems further in, left from an earlier format', {
    what: text('file system or table'),
    at: bytes('where on the medium'),
  }),
  'volume.oddities': records(
    'harmless differences: free count, label in one place only, FSInfo marks',
    problem,
  ),

  // ---- damage ---------------------------------------------------------------------------------------------
  'damage.any': bool('true when the file system is damaged: anything that fsck.fat would repair'),
  'damage.touchesUpdateFile': bool('true when damage touches the update file, its folder or its FAT entries'),
  'damage.list': records('each damage with its place', damageItem),
  'damage.loops': int('cluster chains that run in a circle'),
  'damage.crossLinks': int('clusters that belong to two files'),
  'damage.lostClusters': int('clusters in use that belong to no file'),
  'damage.shortChains': int('files whose chain ends before their size is reached'),
  'damage.longChains': int('files whose chain goes on after their size is reached'),
  'damage.brokenChains': int('chains that run into a free, bad or impossible cluster'),
  'damage.orphanLongNames': int('long-name entries that belong to no short entry'),
  'damage.bootSector': int('fields of the boot sector that no driver would take'),

  // ---- files ----------------------------------------------------------------------------------------------
  files: records('files and folders on the volume (or in the folder), folders first read first', {
    path: text('path from the root with / between names, no leading /'),
    name: text('long name, or the short one in its stored case'),
    shortName: text('8.3 name as stored, upper case'),
    hasLongName: bool('true when long-name entries are stored for it'),
    folder: text('path of its folder; empty for the root'),
    depth: int('folders above it'),
    isFolder: bool('true for a folder'),
    bytes: bytes('size'),
    readOnly: bool('read-only attribute'),
    hidden: bool('hidden attribute'),
    system: bool('system attribute'),
    entryIndex: int('32-byte slot of its entry in its folder, from 0, all counted'),
    fragments: int('unbroken stretches of its chain; 0 for an empty file'),
    litter: word(
      ['none', 'desktop-index', 'trash', 'resource-fork', 'thumbnail', 'folder-settings', 'recovered'],
      "a known by-product of the owner's computer",
    ),
  }),
  filesTotal: int('files and folders on the volume'),
  deletedEntries: records('directory entries marked deleted whose name can still be read', {
    shortName: text('8.3 name; its first character is lost and stands as ?'),
    folder: text('path of its folder; empty for the root'),
    entryIndex: int('32-byte slot in its folder, from 0'),
    bytes: bytes('size it had'),
    looksLikeUpdateFile: bool('true when the rest of the name equals that of the update file'),
  }),

  // ---- the update file ------------------------------------------------------------------------------------
  'updateFile.wanted': text('the path, name or pattern that this loader looks for'),
  'updateFile.wantedName': text(
    'the one file name that this loader looks for; absent when it takes a pattern',
  ),
  'updateFile.wantedFolder': text('the folder in which it looks; empty for the root'),
  'updateFile.path': text('path of the file that this loader would take'),
  'updateFile.name': text('its long name, or the short one in its stored case'),
  'updateFile.shortName': text('its 8.3 name as stored'),
  'updateFile.hasLongName': bool('true when long-name entries are stored for it'),
  'updateFile.bytes': bytes('its size'),
  'updateFile.readOnly': bool('its read-only attribute'),
  'updateFile.entryIndex': int('32-byte slot of its entry in its folder, from 0'),
  'updateFile.deletedBefore': int('slots before that entry in its folder that are marked deleted'),
  'updateFile.entryLimit': int('slots of that folder that this loader looks at; absent when it looks at all'),
  'updateFile.fragments': int('unbroken stretches of its chain'),
  'updateFile.startByte': bytes('first byte of its first cluster on the medium'),
  'updateFile.endByte': bytes('byte after its last cluster on the medium'),
  'updateFile.pieces': records('unbroken stretches of clusters that hold it, in the order of the file', {
    startByte: bytes('first byte on the medium'),
    bytes: bytes('length, whole clusters'),
  }),
  'updateFile.usesLastCluster': bool('true when it uses the last cluster of the volume'),
  'updateFile.whole': bool('every byte of it was read, along a chain as long as its size'),
  'updateFile.sameThroughEachFat': bool('each FAT copy leads to the same bytes'),
  'updateFile.crc32': text('CRC-32, 8 lower-case hexadecimal digits'),
  'updateFile.sha256': text('SHA-256, 64 lower-case hexadecimal digits'),
  'updateFile.candidates': texts('paths that this loader could take, in the order in which it meets them'),
  'updateFile.folderTwins': texts(
    'folders that this loader could take for one and the same on its way to the update file',
  ),
  'updateFile.elsewhere': texts('paths of files with the wanted name in another folder'),
  'updateFile.misnamed': records('files in the wanted folder whose name is nearly the wanted one', {
    path: text('path'),
    how: word(
      ['double-extension', 'copy-number', 'odd-characters', 'other-extension', 'with-spaces', 'short-alias'],
      'what is wrong with the name',
    ),
  }),
  'updateFile.labelTaken': bool('true when the volume label has a name that this loader looks for'),
  'updateFile.deletedTwins': int('deleted entries in its folder whose remaining name equals its own'),
  'updateFile.doneMarkers': texts(
    'done-markers of an earlier flash that lie where it belongs; absent when the profile names none',
  ),
  'updateFile.hidden': records(
    'files that other computers take for the wanted one and that this loader does not see',
    {
      path: text('path'),
      shortName: text('8.3 name as stored'),
      how: word(['long-name', 'case', 'too-long', 'characters'], 'what in its name this loader cannot take'),
    },
  ),
  'updateFile.onOtherMachines': records(
    'files that the loader of another machine with this board would take, and this one does not',
    {
      path: text('path'),
      looksFor: text('the path, name or pattern that the other loader looks for'),
      machines: text('which machines those are, in words'),
    },
  ),
  'updateFile.stages': records(
    'files whose names record where an earlier flash stopped; absent when the profile names no stages',
    { path: text('path'), means: text('what the profile says that it means') },
  ),
  'updateFile.resourceForks': texts(
    'files with attributes that macOS put beside others (._NAME) and that this loader would take',
  ),
  'updateFile.greedy': texts(
    'files, other than those of macOS, that this loader would take by a part of their name; absent when it goes by another way',
  ),
  'updateFile.nameUsedBefore': word(
    ['last', 'factory', 'not-known'],
    'whether a file of its name is known to have been flashed on this board',
  ),

  // ---- what else lies on the card ---------------------------------------------------------------------------
  'otherFiles.list': records(
    'files and folders that belong neither to the update nor to the machine; a folder stands for all that is in it',
    {
      path: text('path'),
      isFolder: bool('true for a folder'),
      litter: word(
        ['none', 'desktop-index', 'trash', 'resource-fork', 'thumbnail', 'folder-settings', 'recovered'],
        "a known by-product of the owner's computer",
      ),
    },
  ),
  'otherFiles.forOtherLoaders': records(
    'files in the top folder that a second loader on the same socket would take',
    { path: text('path'), loader: text('what the other loader is') },
  ),
  'settingsFile.found': bool(
    'the file in which the machine keeps its settings lies on the card; absent when the profile names none',
  ),

  // ---- companions -----------------------------------------------------------------------------------------
  companions: records('files that the profile wants beside the update file on this machine', {
    path: text('path or pattern that the profile names'),
    title: text('what the profile calls it; absent when it gives no name'),
    role: word(['trigger', 'flasher', 'asset', 'settings', 'stays'], 'what it is for'),
    required: bool('true when the flash needs it'),
    found: bool('true when it is there'),
    bytes: bytes('its size; absent when it is not there'),
    bytesFit: bool('its size is what the profile wants; absent when the profile does not care'),
    contentFits: bool('its content is what the profile wants; absent when the profile does not care'),
    bytesWanted: text('the wanted size in words'),
    contentWanted: text('the wanted content in words'),
    elsewhere: text('where a file of that name lies instead; absent when nowhere'),
    whole: bool('every byte of it was read'),
    foundAt: text('path of the file that was found; absent when there is none'),
    readOnly: bool('its read-only attribute'),
    afterSuccess: word(
      ['rename', 'delete', 'keep'],
      'what the loader does with it after a flash; absent when the profile does not say',
    ),
    encodingWanted: word(['ascii', 'utf-8'], 'how its text must be stored; absent when it need not be text'),
    encoding: word(['ascii', 'utf-8', 'utf-16', 'other'], 'how its text is stored, a byte-order mark aside'),
    markAllowed: bool('true when it may start with a byte-order mark; absent when the profile does not say'),
    mark: word(['none', 'utf-8', 'utf-16-le', 'utf-16-be'], 'the byte-order mark that it starts with'),
    zeroBytes: int('bytes of value 0 in it'),
    lineEndsWanted: word(['lf', 'crlf'], 'how its lines must end; absent when the profile takes any'),
    lineEnds: word(['none', 'lf', 'crlf', 'cr', 'mixed'], 'how its lines end'),
    grammarWanted: word(
      ['lines', 'key-value'],
      'how its lines must be built; absent when the profile does not say',
    ),
    grammarFaults: texts('what breaks that, each with the number of its line'),
  }),

  // ---- the firmware image ---------------------------------------------------------------------------------
  'image.encoding': word(encodings, 'how the update file holds the program'),
  'image.looksLike': text(
    'what the first bytes look like, when that is no firmware: a web page, a ZIP archive',
  ),
  'image.whole': bool(
    'no byte of the program is known to lack: an end record, a block, a piece of a segment',
  ),
  'image.problems': records(
    'what is wrong with the records, blocks or headers of the firmware file',
    problem,
  ),
  'image.bytes': bytes('bytes of program'),
  'image.loadAddress': int('lowest address of the program', 'address'),
  'image.endAddress': int('address after the last byte of the program', 'address'),
  'image.segments': records('unbroken stretches of memory that the program fills, in ascending order', {
    start: int('first address', 'address'),
    bytes: bytes('length'),
  }),
  'image.encodingsByName': words(
    encodings,
    'how files whose names end like that of the update file usually hold a program; empty when the ending says nothing',
  ),
  'image.entropy': double('information in the bytes of the file: 8 is noise', 'bits a byte'),
  'image.scrambledHeaderFits': bool(
    'the file has the header by which the profile knows scrambled files; absent when the profile names none',
  ),
  'image.dfuSuffix': bool('true when the file ends with the 16 bytes that tools for flashing by USB add'),
  'image.vectorsAt': int(
    'where the processor looks for the vector table of the program; absent for processors that have none',
    'address',
  ),
  'image.initialStack': int(
    'first word of the vector table; absent when no byte of the program is there',
    'address',
  ),
  'image.resetVector': int(
    'second word of the vector table; absent when no byte of the program is there',
    'address',
  ),
  'image.stackInRam': bool(
    'the initial stack pointer lies in the memory of the processor, or just behind its end',
  ),
  'image.stackAlignment': int(
    'largest power of two up to 8 of which the initial stack pointer is a multiple',
  ),
  'image.stackPlaces': text('the memory of the processor in which a stack may begin, in words'),
  'image.resetIsThumb': bool('the reset vector has bit 0 set, as Cortex-M processors want'),
  'image.resetInProgram': bool('the reset vector points at a byte of the program'),
  'image.resetAtBlank': bool('true when the reset vector points at bytes that are blank'),
  'image.vectorFaults': records('vectors behind the first two that the processor cannot use', {
    name: text('name of the exception'),
    value: int('the vector as it is written', 'address'),
    how: word(
      ['bit-0', 'outside'],
      'what is wrong: bit 0 is clear, or it points neither into the program nor into RAM',
    ),
  }),
  'image.programMovedBy': bytes(
    'bytes between the place where the boot loader takes the program from and the vector table that was found in the file; absent when it is in its place, or none was found',
  ),
  'image.linkedFor': int(
    'address for which the program was linked; absent when it is the one at which it will lie',
    'address',
  ),
  'image.linkedForWhat': text(
    'what programs at that address are for; absent when the profile does not know it',
  ),
  'image.madeForOthers': bool(
    'true when the file is a build that the profile gives to other machines: where it belongs is then settled by that',
  ),
  'image.bootLoaderIncluded': bool('true when the file holds a boot loader besides the program'),
  'image.bootLoaderBecause': text('what says that it holds a boot loader; absent when it does not'),
  'image.overlapsLoader': bool('true when bytes of the program lie where the boot loader is'),
  'image.overlapsSettings': bool('true when bytes of the program lie where the settings are kept'),
  'image.inProcessorFlash': bool('every byte of the program lies in the flash of the processor'),
  'image.flashPlaces': text('the flash of the processor in words'),
  'image.flashAreas': records('the flash of the processor, areas that touch joined', {
    start: int('first address', 'address'),
    bytes: bytes('size'),
  }),
  'image.wordSum': int('sum of the first eight words of the program, modulo 2^32'),
  'image.wordSumHolds': bool(
    'that sum is zero; absent when neither the processor nor the boot loader looks at it',
  ),
  'image.checksumHolds': bool(
    'the checksum that the profile describes is right; absent when the profile describes none',
  ),
  'image.checksumFound': text('checksum that stands in the file, hexadecimal'),
  'image.checksumComputed': text('checksum that the bytes of the file give, hexadecimal'),
  'image.espChip': text('chip that an ESP image is made for; absent for other files'),
  'image.espChipWanted': text('chip id that this processor wants in an ESP image, with the name of the chip'),
  'image.espChipFits': bool('that chip is the one on the board; absent where it does not matter'),
  'image.uf2Families': texts('families whose blocks a UF2 file holds'),
  'image.uf2FamilyWanted': text('family of UF2 blocks that this processor takes'),
  'image.uf2FamilyFits': bool(
    'blocks of the family of this processor are there; absent where it does not matter',
  ),
  'image.build': text('id of the published build that this is'),
  'image.release': text('release that this build belongs to'),
  'image.buildTitle': text('name of that build'),
  'image.buildKind': word(['application', 'loader', 'both'], 'what that build holds'),
  'image.buildNeedsVolts': double('voltage that the build needs of the supply', 'V'),
  'image.buildNeedsAmps': double('current that the supply must be able to give', 'A'),
  'image.buildMachines': text('for which machines the build is made, in words'),
  'image.releaseFile': text('path of the file of the release that has the same bytes, whatever its role'),
  'image.releaseFileRole': word(['build', 'companion', 'profile', 'document'], 'what that file is for'),
  'image.markerBuilds': texts('builds whose marker text was found in the program'),
  'image.markerConflict': text('build whose marker was found in a file that is another build'),
  'image.siblingMarker': text('id of the other board whose marker text was found in the program'),
  'image.siblingTitle': text('name of that other board'),
  'image.sameSizeAs': texts('published builds of exactly this size but with other bytes'),
  'image.nearMiss': text('how the file nearly equals a published one, in words; absent when it does not'),
  'image.nearMissKind': word(
    ['changed', 'blank-from', 'truncated', 'extended'],
    'what happened to the published file',
  ),
  'image.nearMissAt': bytes('offset of the first byte that differs, is missing or is too many'),
  'image.nearMissFile': text('path of the published file that it nearly equals'),
  'image.fitness': word(['safe', 'unsafe', 'wrong'], 'what the build is for this machine'),
  'image.unsafeBecause': text(
    'why the supply of this machine does not do for the build; absent when it does',
  ),
  'image.wrongBecause': text('why the build is made for other machines; absent when it is made for this one'),
  'image.wrongAxes': texts('questions of the profile whose answer speaks against the build'),
  'image.preferredBuild': text('id of the build that is meant for this machine; absent when none is'),
  'image.isPreferred': bool('it is the build that is meant for this machine'),
  'image.supplyAssumed': text(
    'which supplies were assumed where the owner told none and all listed ones lead to the same build',
  ),
  'image.inApplicationArea': bool('every byte of the program lies inside the application area'),
  'image.isKnownBuild': bool('its SHA-256 stands in the release manifest'),
  'image.isForThisMachine': bool('the build is safe and meant for this machine'),
  'image.blank': word(['no', 'all-zero', 'all-ones', 'blank-head'], 'whether the file is blank flash'),

  // ---- the machine ----------------------------------------------------------------------------------------
  'machine.board': text('id of the board'),
  'machine.supply': text('id of the fitted supply, as the profile calls it'),
  'machine.supplyVolts': double('voltage on the label of the fitted supply', 'V'),
  'machine.supplyAmps': double('current on the label of the fitted supply', 'A'),
  'machine.voltsListed': texts(
    'voltages of the supplies with which the board was sold, each once; absent when the profile lists none',
  ),
  'machine.supplyTold': bool('true when the owner says what the label of the fitted supply says'),
  'machine.installed': text('release that runs now'),
  'machine.was': text('release that ran last, when nothing runs now'),
  'machine.nothingInstalled': bool('true when no program runs now'),
  'machine.loader': text('loader generation of this machine'),
  'machine.lastFileName': text('name of the file that was flashed last'),
  'machine.answers': records('answers to the other questions of the profile', {
    axis: text('id of the question'),
    value: text('the answer'),
  }),

  // ---- from the release on the machine to the one on the card ----------------------------------------------
  'release.from': text('release that runs now; when nothing runs, the one that ran last'),
  'release.direction': word(
    ['newer', 'same', 'older'],
    'the release on the card compared with the one on the machine',
  ),
  'release.stepVia': text('release that has to be flashed in between; absent when none has'),
  'release.lockedSince': text(
    'release since which no older one can be flashed, when the machine is there and the card is not',
  ),
  'release.lockedBecause': text('why that is so, in the words of the profile'),
  'release.locksBecause': text(
    'why there is no way back to older releases after this flash, in the words of the profile; absent when there is',
  ),
  'release.noWayBackFrom': text(
    'release from which on this build cannot be put back by card; absent when it can, or the machine is past it',
  ),
  'release.taken': bool(
    'what this loader compares lets it take the release on the card; absent when it takes any, or nothing runs',
  ),
  'release.layoutBefore': text('how the release on the machine stores its settings, as the profile calls it'),
  'release.layoutAfter': text('how the release on the card stores its settings'),
  'release.layoutChanges': bool('true when the two differ; absent when the profile tells none apart'),
  'release.settingsNamed': bool(
    'true when the profile says which settings to enter again after a flash, or that it does not matter',
  ),
  'release.settingsToNote': texts('settings that the owner enters again after the flash'),
  'release.settingsDropped': texts('settings that exist no longer'),
  'release.settingsRenamed': texts('settings with another name now, in words'),
  'release.settingsNoted': bool('true when the machine record holds the settings of the machine'),
  'release.notes': records('warnings of the profile about this release that are for this machine', {
    hazard: word(hazards, 'how bad it is'),
    text: text('the warning'),
  }),
  'release.worstNote': word(hazards, 'the worst of them; absent when there is none'),
  'release.remarks': texts('other remarks of the profile about this release that are for this machine'),

  'power.volts': double('voltage for which the figures hold', 'V'),
  'power.peakWatts': double('all loads that may be on at once, cold', 'W'),
  'power.peakAmps': double('the same as a current', 'A'),
  'power.peakLoads': texts('loads that are counted in the peak'),
  'power.peakMarginWatts': double('rating of the supply less the peak; negative when it is over', 'W'),
  'power.sustainedWatts': double('the same, hot and averaged', 'W'),
  'power.sustainedAmps': double('the same as a current', 'A'),
  'power.supplyWatts': double('rating of the fitted supply', 'W'),
  'power.supplyAmps': double('rating of the fitted supply', 'A'),
  'power.derating': double('share of the rating that may be drawn all the time', '1'),
  'power.deratedWatts': double('rating of the supply times that share', 'W'),
  'power.sustainedMarginWatts': double('derated rating less what is drawn all the time', 'W'),
  'power.limitAmps': double('limit of the current that the build keeps by itself', 'A'),
  'power.limitKind': word(['average', 'peak'], 'what that limit is about'),
  'power.heating': records('how warm heated things become with their heater on all the time', {
    load: text('id of the heater'),
    title: text('name of the heater'),
    watts: double('power that it takes in at that temperature', 'W'),
    levelsOffAt: double('temperature at which it levels off', '°C'),
    target: double('temperature that it must reach', '°C'),
    ambient: double('temperature around it', '°C'),
    shortBy: double('degrees that lack to the target; 0 when it is reached', 'K'),
    boundBy: word(['heater', 'build', 'supply'], 'what keeps it from more'),
  }),
  'power.notKnown': texts('loads whose power the profile does not settle, with the reason'),

  // ---- a release folder -----------------------------------------------------------------------------------
  'releaseFolder.read': bool('every file and folder in it was read'),
  'releaseFolder.files': int('files in it'),
  'releaseFolder.notFiles': texts('links, pipes and the like, which are neither files nor folders'),
  'releaseFolder.names': records('files whose names cannot be used everywhere', {
    path: text('path'),
    how: word(
      ['manifest', 'windows', 'case', 'invisible'],
      'what is wrong: no manifest can hold it, Windows cannot have it, it differs from another in case alone, or it holds invisible characters',
    ),
  }),
  'releaseFolder.release': text('release that the folder holds, as its manifest or the maintainer says'),
  'releaseFolder.releaseAsNumbered': bool('that release is numbered as the profile says'),
  'releaseFolder.declared': int('files of builds that the profile declares'),
  'releaseFolder.missingBuilds': records('files of builds that are declared and are not there', {
    build: text('id of the build'),
    path: text('path that the profile names'),
    instead: text('file that seems to be it under another name; absent when there is none'),
  }),
  'releaseFolder.formFaults': records('builds in a form that the boot loader does not take', releaseFault),
  'releaseFolder.sizeFaults': records('builds of a size that the profile does not allow', releaseFault),
  'releaseFolder.placeFaults': records('builds for another place in the memory', releaseFault),
  'releaseFolder.otherFaults': records('builds that fail another check of the program', releaseFault),
  'releaseFolder.powerFaults': records('builds that ask too much of the supplies they are for', releaseFault),
  'releaseFolder.companionFaults': texts('companion files that are missing or wrong, in words'),
  'releaseFolder.markerFaults': records('builds with another marker than their own', releaseFault),
  'releaseFolder.numberFaults': records('builds that say that they belong to another release', releaseFault),
  'releaseFolder.nowhere': texts('builds that are made for no machine at all'),
  'releaseFolder.twins': texts('builds whose bytes stand there under several names, in words'),
  'releaseFolder.strays': records('other files that somebody could take for a build', {
    path: text('path'),
    what: text('what it is, in words'),
  }),
  'releaseFolder.litter': texts("known by-products of the maintainer's computer"),
  'releaseFolder.sharedCrc': records('builds that have one CRC-32 in common', {
    crc32: text('the CRC-32'),
    paths: text('the builds, in words'),
  }),
  'releaseFolder.choiceTried': int('kinds of machines for which the choice of build was tried'),
  'releaseFolder.gaps': texts('machines for which no build is safe, in words'),
  'releaseFolder.overlaps': texts('machines for which several builds are equally right, in words'),
  'releaseFolder.supplyFaults': texts('what the builds leave open about supplies, in words'),
  'releaseFolder.neverMeant': texts('builds that are meant for no machine'),
  'releaseFolder.matrix': records('every kind of machine, and what each build is there', {
    machine: text('the machine, in words'),
    supply: text('label of the supply; absent when the profile lists none'),
    preferred: text('id of the build that is meant; absent when there is none'),
    fits: texts('for each build, in the order of the profile, what it is on this machine'),
  }),
  'releaseFolder.matrixTotal': int('rows of that table'),
  'releaseFolder.staleWaivers': texts(
    'waivers of the profile that were meant for earlier releases, in words',
  ),
  'releaseFolder.sealed': bool('a manifest is there; absent while it is being written'),
  'releaseFolder.unlisted': texts('files that the manifest does not name'),
  'releaseFolder.lost': texts('files that the manifest names and that are not there'),
  'releaseFolder.changed': texts('files that are not what the manifest says, in words'),
  'releaseFolder.misdescribed': texts('what else the manifest says that is not so, in words'),
  'releaseFolder.checksumFaults': texts(
    'what is wrong in the list of checksums beside the manifest; absent when there is no list',
  ),

  // ---- what the profile says, resolved for this machine -----------------------------------------------------
  'board.id': text('id of the board profile'),
  'board.title': text('name of the board'),
  'board.revision': int('revision of the profile'),
  'board.processor': text('processor of the board'),
  'board.memory.loader.start': int('first address of the boot loader', 'address'),
  'board.memory.loader.bytes': bytes('size of the boot loader'),
  'board.memory.application.start': int('first address of the application', 'address'),
  'board.memory.application.bytes': bytes('size of the application area'),
  'board.memory.settings': records('areas in which the program keeps its settings', {
    start: int('first address', 'address'),
    bytes: bytes('size'),
  }),
  'board.loader.partitioning': words(
    ['mbr', 'gpt', 'hybrid', 'none'],
    'partition tables that the loader reads',
  ),
  'board.loader.takesPartition': text(
    'which partition the loader takes: first-slot, first-fat, active, slot-N, whole-card',
  ),
  'board.loader.onlyPartition': bool('true when the loader wants no second partition'),
  'board.loader.logicalPartitions': bool('true when the loader finds logical partitions'),
  'board.loader.partitionTypes': ints('type bytes that the loader takes'),
  'board.loader.partitionTypesAnyButZero': bool('true when the loader takes every type byte but 0'),
  'board.loader.bootFlag': ints('boot-flag bytes that the loader takes'),
  'board.loader.trusts': word(['table', 'boot-sector'], 'which of the two lengths the loader believes'),
  'board.loader.cardClass': words(capacityClasses, 'capacity families of cards that the loader can start'),
  'board.loader.volumeBytes.min': bytes('smallest volume'),
  'board.loader.volumeBytes.max': bytes('largest volume'),
  'board.loader.cardBytes.min': bytes('smallest card'),
  'board.loader.cardBytes.max': bytes('largest card'),
  'board.loader.addressing': word(['bytes32', 'sectors'], 'how the loader addresses the card'),
  'board.loader.bootCodeMustBeZero': bool('true when the first 440 bytes must be zero'),
  'board.loader.reservedSectors': ints('reserved-sector counts that the loader takes'),
  'board.loader.dataAlignment': bytes('the data area must start on a multiple of this'),
  'board.loader.fileSystems': words(
    ['FAT12', 'FAT16', 'FAT32', 'exFAT'],
    'file systems that the loader reads',
  ),
  'board.application.fileSystems': words(
    ['FAT12', 'FAT16', 'FAT32', 'exFAT'],
    'file systems that the program reads',
  ),
  'board.loader.clusterBytes': ints('cluster sizes that the loader reads', 'bytes'),
  'board.loader.sectorBytes': ints('sector sizes that the loader reads', 'bytes'),
  'board.loader.fatCount': ints('numbers of FAT copies that the loader reads'),
  'board.loader.reads.fat': word(['first', 'active'], 'which FAT copy the loader follows'),
  'board.loader.reads.fsInfo': bool('true when the loader believes the FSInfo sector'),
  'board.loader.driver': text('file-system driver of the loader'),
  'board.loader.countsDeleted': bool('true when deleted entries count towards the entry limit'),
  'board.loader.takesDeletedEntries': bool('true when the loader may take a deleted entry for a file'),
  'board.loader.fragments.max': int('most fragments of the update file that the loader follows'),
  'board.loader.readsLastCluster': bool('false when the loader cannot read the last cluster of the volume'),
  'board.loader.refusesDirty': bool('true when the loader refuses a volume with a dirty mark'),
  'board.loader.searches': word(
    ['table', 'whole-card'],
    'whether the loader scans the whole card for boot sectors',
  ),
  'board.loader.ignoresLabel': bool('false when the loader takes the label entry for a file'),
  'board.loader.longNames': bool('true when the loader reads long names'),
  'board.loader.nameLength': int('longest file name that the loader takes'),
  'board.loader.nameCase': word(['ignored', 'exact', 'upper-only'], 'how the loader compares names'),
  'board.loader.nameCharacters': text('characters that the loader takes in names'),
  'board.loader.erases': word(
    ['before-reading', 'after-checks', 'never-blank'],
    'when the loader erases the old program',
  ),
  'board.card.otherFiles': word(
    ['allowed', 'advised-against', 'forbidden'],
    'whether other files may lie on the card',
  ),
  'board.card.maxEntries': int('most files and folders in the root'),
  'board.others': records('other loaders that read a card in the same socket', {
    title: text('what the other loader is'),
    glob: text('pattern of the names that it takes'),
    contains: text('text in the names that it takes'),
  }),
  'board.update.looksFor': texts('paths or patterns for which the loader looks, in the order of its search'),
  'board.update.naming': word(['fixed', 'new-each-time'], 'whether the file name must be new at each flash'),
  'board.update.factoryName': text('file name used at the factory'),
  'board.update.scrambling.header.at': bytes('offset of the header by which a scrambled file is known'),
  'board.update.scrambling.header.bytes': text('bytes of that header, hexadecimal'),
  'board.update.scrambling.minEntropy': double('least entropy of a scrambled file', 'bits a byte'),
  'board.update.takes': word(
    ['first-entry', 'last-entry', 'newest-name', 'newest-date'],
    'which of several matching files the loader takes',
  ),
  'board.update.encoding': word(encodings, 'how the loader wants the program'),
  'board.update.bytes.min': bytes('smallest update file'),
  'board.update.bytes.max': bytes('largest update file'),
  'board.update.lengthMultiple': bytes('the length must be a multiple of this'),
  'board.update.skipBytes': bytes('bytes at the start of the file that the loader skips'),
  'board.update.checks': words(
    ['nothing', 'vectors', 'word-sum', 'checksum', 'signature', 'board-marker'],
    'what the loader verifies before it starts the program',
  ),
  'board.update.checksum.kind': text('checksum that the loader verifies'),
  'board.update.checksum.at': int(
    'offset of the stored checksum; negative: from the end of the file',
    'bytes',
  ),
  'board.update.checksum.byteOrder': word(['little', 'big'], 'order of the bytes of the stored checksum'),
  'board.update.afterSuccess': word(
    ['rename', 'delete', 'keep'],
    'what the loader does with the file afterwards',
  ),
  'board.update.doneMarker': text('name that the update file gets afterwards'),
  'board.update.markerBlocks': bool('true when an old done-marker makes the renaming fail'),
  'board.update.stageNames': records('names by which an interrupted flash shows', {
    suffix: text('end of the name'),
    means: text('what it says about an earlier flash'),
  }),
  'board.update.needsFreeClusters': int('free clusters that the loader needs'),
  'board.builds': records('builds that exist for this board', {
    id: text('id'),
    title: text('name'),
    kind: word(['application', 'loader', 'both'], 'what it holds'),
  }),
  'board.asPublished': bool('true when the profile is byte for byte the one of the release'),
  'board.coreComplete': bool('true when the profile says something about each of its core keys'),
  'board.takesAnyBuild': bool('true when the profile says builds: any'),
  'board.prefer': word(['strongest-that-fits'], 'which of several safe builds is the right one'),
  'board.whenUnsure': texts('builds for an owner who cannot read the label of the supply, first one first'),
  'board.supplies': records('supplies with which the machine was sold', {
    id: text('id'),
    title: text('name'),
    volts: double('voltage on its label', 'V'),
    amps: double('current on its label', 'A'),
  }),
  'board.derating.factor': double('share of the rating of a supply that may be used all the time', '1'),
  'board.derating.hazard': word(hazards, 'how bad it is to be over that share'),
  'board.siblings': records('other boards whose images look alike', { id: text('id'), title: text('name') }),
  'board.releases.numbering': word(['integer', 'dotted', 'date'], 'how releases are compared'),
  'board.releases.takes': word(['newer', 'different'], 'which releases the loader takes; absent when any'),
  'board.releases.comparedBy': word(['release', 'checksum', 'name'], 'by what the loader compares releases'),
  'board.releases.skippedFile': word(
    ['keep', 'rename', 'delete'],
    'what the loader does with a file that it skips',
  ),
  'board.settings.file': text('file on the card in which the machine keeps its settings'),
  'board.settings.carry': texts('settings that are entered again after a flash'),
  'board.settings.dropped': texts('settings that exist no longer'),
  'board.settings.stepsTolerance': double('relative difference of steps that is still the same', '1'),
  'board.identity.release.key': text('key by which the reply of the machine names its release'),
  'board.identity.board.key': text('key by which the reply of the machine names its board'),
  'board.guide.before': text('what to do before the flash'),
  'board.guide.socket': text('which socket takes the card'),
  'board.guide.start': text('how the flash is started'),
  'board.guide.signs': records('what the owner sees, in order', {
    after: text('when'),
    sees: text('what the owner sees'),
    means: text('what it means'),
  }),
  'board.guide.wayBack': text('how to get back when it failed'),
  'board.cautions': words(['mains', 'hot', 'moving'], 'dangers inside the machine'),
  'board.seenKeys': texts(
    'keys of the profile whose value was only seen to work, such as loader.clusterBytes',
  ),
};
