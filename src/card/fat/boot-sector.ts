import { hasAscii, isPowerOfTwo, latin1, u16At, u32At } from '../../bytes/cursor.js';
import { type FatName, firstFat32Count, mostFat32Clusters, widthByCount } from './width.js';

/** What is wrong or odd with one field, and where: `at` counts bytes from the start of the volume. */
export interface FieldProblem {
  /** One hyphenated word. */
  readonly code: string;
  /** A plain sentence. */
  readonly text: string;
  readonly at: number;
}

/** The boot sector's fields as they stand on the medium (FAT specification, sections 3.1 to 3.3). */
export interface FatBootSector {
  /** The 512 bytes themselves. */
  readonly bytes: Uint8Array;
  readonly oemName: string;
  readonly bytesPerSector: number;
  readonly sectorsPerCluster: number;
  readonly reservedSectors: number;
  readonly fatCount: number;
  readonly rootEntryCount: number;
  readonly totalSectors16: number;
  readonly media: number;
  readonly fatSectors16: number;
  readonly sectorsPerTrack: number;
  readonly heads: number;
  readonly hiddenSectors: number;
  readonly totalSectors32: number;
  /** True for the FAT32 form: BPB_FATSz16 is 0. The fields from here on stand elsewhere in the other form. */
  readonly isFat32Form: boolean;
  /** BPB_FATSz32; 0 in the older form. */
  readonly fatSectors32: number;
  /** BPB_ExtFlags; 0 in the older form. */
  readonly extendedFlags: number;
  readonly version: number;
  readonly rootCluster: number;
  readonly fsInfoSector: number;
  readonly backupBootSector: number;
  /** BS_Reserved1: bit 0 is a dirty mark, bit 1 asks for a surface test. */
  readonly state: number;
  /** Where BS_Reserved1 stands: byte 37 or 65. */
  readonly stateAt: number;
  /** BS_BootSig: 0x29 when serial number, label and type text follow, 0x28 when only the serial number does. */
  readonly extendedSignature: number;
  readonly serial: number;
  /** The eleven bytes of BS_VolLab. */
  readonly labelBytes: Uint8Array;
  readonly labelAt: number;
  readonly typeText: string;
  /** Fields that a driver refuses, or that contradict each other. */
  readonly problems: readonly FieldProblem[];
  /** Fields that are unusual and that no driver minds. */
  readonly oddities: readonly FieldProblem[];
  /** Where everything lies; null when the fields describe no volume at all. */
  readonly geometry: FatGeometry | null;
}

/** Where the parts of a volume lie. Offsets and sizes in bytes from the start of the volume. */
export interface FatGeometry {
  readonly bytesPerSector: number;
  readonly clusterBytes: number;
  readonly fatCount: number;
  readonly fatStart: number;
  /** Bytes of one copy of the FAT. */
  readonly fatBytes: number;
  /** First byte of the fixed root folder; of no meaning when `rootBytes` is 0. */
  readonly rootStart: number;
  /** Bytes of the fixed root folder; 0 where the root folder is a cluster chain. */
  readonly rootBytes: number;
  readonly dataStart: number;
  readonly clusterCount: number;
  readonly volumeBytes: number;
  /** By cluster count alone (FAT specification, section 3.5). */
  readonly fileSystem: FatName;
  /** Bits of a FAT entry in the layout that this volume was given, so that its files can be listed all the same. */
  readonly entryBits: 12 | 16 | 32;
  /** FAT entries that count: those of the clusters and the two before them, as far as the FAT has room for them. */
  readonly entryCount: number;
}

/**
 * Reads the 512 bytes of a FAT boot sector. Nothing is rejected: raw values stay, what a driver would refuse is
 * listed, and the geometry is given whenever the fields describe one.
 */
export function readBootSector(bytes: Uint8Array): FatBootSector {
  const fatSectors16 = u16At(bytes, 22);
  const isFat32Form = fatSectors16 === 0;
  const shift = isFat32Form ? 28 : 0;
  const fields = {
    bytes,
    oemName: latin1(bytes.subarray(3, 11)),
    bytesPerSector: u16At(bytes, 11),
    sectorsPerCluster: bytes[13] ?? 0,
    reservedSectors: u16At(bytes, 14),
    fatCount: bytes[16] ?? 0,
    rootEntryCount: u16At(bytes, 17),
    totalSectors16: u16At(bytes, 19),
    media: bytes[21] ?? 0,
    fatSectors16,
    sectorsPerTrack: u16At(bytes, 24),
    heads: u16At(bytes, 26),
    hiddenSectors: u32At(bytes, 28),
    totalSectors32: u32At(bytes, 32),
    isFat32Form,
    fatSectors32: isFat32Form ? u32At(bytes, 36) : 0,
    extendedFlags: isFat32Form ? u16At(bytes, 40) : 0,
    version: isFat32Form ? u16At(bytes, 42) : 0,
    rootCluster: isFat32Form ? u32At(bytes, 44) : 0,
    fsInfoSector: isFat32Form ? u16At(bytes, 48) : 0,
    backupBootSector: isFat32Form ? u16At(bytes, 50) : 0,
    state: bytes[37 + shift] ?? 0,
    stateAt: 37 + shift,
    extendedSignature: bytes[38 + shift] ?? 0,
    serial: u32At(bytes, 39 + shift),
    labelBytes: bytes.slice(43 + shift, 54 + shift),
    labelAt: 43 + shift,
    typeText: latin1(bytes.subarray(54 + shift, 62 + shift)),
  };
  const problems: FieldProblem[] = [];
  const oddities: FieldProblem[] = [];
  const geometry = judgeGeometry(fields, problems, oddities);
  return { ...fields, problems, oddities, geometry };
}

type Fields = Omit<FatBootSector, 'problems' | 'oddities' | 'geometry'>;

function judgeGeometry(boot: Fields, problems: FieldProblem[], oddities: FieldProblem[]): FatGeometry | null {
  const problem = (code: string, at: number, text: string): void => {
    problems.push({ code, text, at });
  };
  const { bytes, bytesPerSector, sectorsPerCluster, reservedSectors, fatCount, rootEntryCount } = boot;

  if (u16At(bytes, 510) !== 0xaa55)
    problem('no-signature', 510, 'the boot sector does not end with the bytes 55 AA');
  const jump = bytes[0] ?? 0;
  if (jump !== 0xe9 && !(jump === 0xeb && bytes[2] === 0x90))
    problem('no-jump', 0, 'the boot sector does not start with a jump instruction (EB xx 90 or E9)');
  // A broken sector size leaves nothing to compute with; every other field is still looked at.
  const sizeIsSound = isPowerOfTwo(bytesPerSector) && bytesPerSector >= 512 && bytesPerSector <= 4096;
  if (!sizeIsSound)
    problem('sector-size', 11, `${bytesPerSector} bytes in a sector; only 512, 1024, 2048 and 4096 exist`);
  if (!isPowerOfTwo(sectorsPerCluster))
    problem('cluster-size', 13, `${sectorsPerCluster} sectors in a cluster, which is not a power of two`);
  if (reservedSectors === 0)
    problem('reserved-sectors', 14, 'no reserved sectors, so that the FAT would lie on the boot sector');
  if (fatCount !== 1 && fatCount !== 2)
    problem('fat-count', 16, `${fatCount} copies of the FAT; drivers take 1 or 2`);
  if (boot.media !== 0xf0 && boot.media < 0xf8)
    problem('media-byte', 21, `media byte ${hex(boot.media, 2)}; only F0 and F8 to FF exist`);
  const fatSectors = boot.isFat32Form ? boot.fatSectors32 : boot.fatSectors16;
  if (fatSectors === 0) problem('fat-sectors', boot.isFat32Form ? 36 : 22, 'the FAT has no sectors');
  const totalSectors = boot.totalSectors16 || boot.totalSectors32;
  if (totalSectors === 0) problem('total-sectors', 32, 'the volume has no sectors');
  if (boot.totalSectors16 !== 0 && boot.totalSectors32 !== 0 && boot.totalSectors16 !== boot.totalSectors32)
    oddities.push({
      code: 'two-sizes',
      text: `two sizes are given: ${boot.totalSectors16} and ${boot.totalSectors32} sectors; drivers take the first`,
      at: 19,
    });
  if (boot.isFat32Form) {
    if (boot.version !== 0)
      problem('version', 42, `FAT32 version ${boot.version >> 8}.${boot.version & 0xff}; only 0.0 exists`);
    if (rootEntryCount !== 0)
      problem('root-entries', 17, 'both a root folder of fixed size and the FAT32 form of the boot sector');
    if (!hasAscii(bytes, 82, 'FAT32   ')) problem('type-text', 82, 'the text FAT32 is missing at byte 82');
  } else {
    if (rootEntryCount === 0) problem('root-entries', 17, 'the root folder has room for no entries');
    else if (sizeIsSound && (rootEntryCount * 32) % bytesPerSector !== 0)
      problem('root-entries', 17, `${rootEntryCount} root entries, which do not fill whole sectors`);
    if (!hasAscii(bytes, 54, 'FAT')) problem('type-text', 54, 'the text FAT is missing at byte 54');
  }
  // Serial number and label are missing then; drivers mount the volume all the same.
  if (boot.extendedSignature !== 0x29)
    oddities.push({
      code: 'extended-signature',
      text: 'the extended boot signature 29 is missing',
      at: boot.labelAt - 5,
    });

  if (!sizeIsSound || sectorsPerCluster === 0 || reservedSectors === 0 || fatCount === 0) return null;
  if (fatSectors === 0 || totalSectors === 0) return null;

  const rootBytes = boot.isFat32Form ? 0 : rootEntryCount * 32;
  const rootSectors = Math.ceil((rootEntryCount * 32) / bytesPerSector);
  const dataSector = reservedSectors + fatCount * fatSectors + rootSectors;
  const clusterCount = Math.floor((totalSectors - dataSector) / sectorsPerCluster);
  if (clusterCount < 1) {
    problem('no-data-area', 32, `${totalSectors} sectors, which leaves no room for a single cluster`);
    return null;
  }
  const fileSystem = widthByCount(clusterCount);
  const entryBits = boot.isFat32Form ? 32 : fileSystem === 'FAT12' ? 12 : 16;
  if (boot.isFat32Form && clusterCount < firstFat32Count)
    problem(
      'width-contradiction',
      36,
      `laid out as FAT32 but with ${clusterCount} clusters, which makes it ${fileSystem}; FAT32 starts at ${firstFat32Count}`,
    );
  if (!boot.isFat32Form && clusterCount >= firstFat32Count)
    problem(
      'width-contradiction',
      22,
      `laid out as FAT16 but with ${clusterCount} clusters, which makes it FAT32`,
    );
  if (clusterCount > mostFat32Clusters)
    problem('too-many-clusters', 32, `${clusterCount} clusters, more than FAT32 can number`);
  if (boot.isFat32Form && (boot.rootCluster < 2 || boot.rootCluster > clusterCount + 1))
    problem(
      'root-cluster',
      44,
      `the root folder starts at cluster ${boot.rootCluster}, which does not exist`,
    );
  const fatBytes = fatSectors * bytesPerSector;
  const room = Math.floor((fatBytes * 8) / entryBits);
  if (room < clusterCount + 2)
    problem(
      'fat-too-short',
      boot.isFat32Form ? 36 : 22,
      `the FAT has room for ${Math.max(0, room - 2)} clusters, the volume has ${clusterCount}`,
    );
  return {
    bytesPerSector,
    clusterBytes: sectorsPerCluster * bytesPerSector,
    fatCount,
    fatStart: reservedSectors * bytesPerSector,
    fatBytes,
    rootStart: (reservedSectors + fatCount * fatSectors) * bytesPerSector,
    rootBytes,
    dataStart: dataSector * bytesPerSector,
    clusterCount,
    volumeBytes: totalSectors * bytesPerSector,
    fileSystem,
    entryBits,
    entryCount: Math.min(room, clusterCount + 2),
  };
}

/** First byte of a cluster, from the start of the volume. */
export const clusterStart = (geometry: FatGeometry, cluster: number): number =>
  geometry.dataStart + (cluster - 2) * geometry.clusterBytes;

const hex = (value: number, digits: number): string => value.toString(16).toUpperCase().padStart(digits, '0');
