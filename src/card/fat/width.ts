/** FAT widths by name, as facts and profiles spell them. */
export type FatName = 'FAT12' | 'FAT16' | 'FAT32';

/** What a driver makes of a volume: a width, or it refuses to mount. */
export type WidthDecision = FatName | 'refused';

/** The fields of a boot sector, besides the cluster count, that drivers look at to tell the widths apart. */
export interface FatLayout {
  /** BPB_FATSz16, in sectors; 0 marks the FAT32 form of the boot sector. */
  readonly fatSectors16: number;
  /** BPB_RootEntCnt, in entries of 32 bytes; 0 where the root folder is a cluster chain. */
  readonly rootEntryCount: number;
}

/** Width that each driver decides for one volume. */
export interface DriverWidths {
  /** FAT specification, section 3.5: by cluster count alone. */
  readonly specification: FatName;
  /** The embedded driver called fatfs. */
  readonly fatfs: WidthDecision;
  readonly linux: WidthDecision;
  /** Desktop systems of the Windows NT line, as formatters' authors measured them. */
  readonly windows: WidthDecision;
  /** True when the four do not all agree. */
  readonly disputed: boolean;
}

/** Fewest clusters of a FAT16 volume (FAT specification, section 3.5). */
export const firstFat16Count = 4085;
/** Fewest clusters of a FAT32 volume (FAT specification, section 3.5). */
export const firstFat32Count = 65525;
/** Most clusters of a FAT32 volume: the highest cluster number stays below the bad-cluster mark 0x0FFFFFF7. */
export const mostFat32Clusters = 0x0ffffff5;

/** Width by cluster count alone (FAT specification, section 3.5). */
export function widthByCount(clusterCount: number): FatName {
  if (clusterCount < firstFat16Count) return 'FAT12';
  return clusterCount < firstFat32Count ? 'FAT16' : 'FAT32';
}

/**
 * Width that real drivers decide for a cluster count and layout. fatfs counts 4085 clusters as FAT12 and 65525 as
 * FAT16, and refuses a volume whose root folder does not suit the width; Linux asks only whether BPB_FATSz16 is 0;
 * Windows does the same and puts the border of FAT12 at 4087 clusters (mkfs.fat and mtools sources).
 */
export function widths(clusterCount: number, layout: FatLayout): DriverWidths {
  const specification = widthByCount(clusterCount);
  const fatfs = fatfsWidth(clusterCount, layout);
  const isFat32Form = layout.fatSectors16 === 0;
  const linux = isFat32Form ? 'FAT32' : narrowWidth(clusterCount, firstFat16Count);
  const windows = isFat32Form ? 'FAT32' : narrowWidth(clusterCount, 4087);
  const disputed = fatfs !== specification || linux !== specification || windows !== specification;
  return { specification, fatfs, linux, windows, disputed };
}

function fatfsWidth(clusterCount: number, layout: FatLayout): WidthDecision {
  const byCount = clusterCount <= 0xff5 ? 'FAT12' : clusterCount <= 0xfff5 ? 'FAT16' : 'FAT32';
  if (clusterCount < 1 || clusterCount > mostFat32Clusters) return 'refused';
  const rootSuits = byCount === 'FAT32' ? layout.rootEntryCount === 0 : layout.rootEntryCount !== 0;
  return rootSuits ? byCount : 'refused';
}

const narrowWidth = (clusterCount: number, firstFat16: number): WidthDecision =>
  clusterCount < firstFat16 ? 'FAT12' : clusterCount < firstFat32Count ? 'FAT16' : 'refused';
