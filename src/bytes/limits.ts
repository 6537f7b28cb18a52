/**
 * Every bound of every walk, by name. A card is somebody else's data: it may claim any size, and a walk that it
 * steers must end. What lies over a limit is `unseen: over-limit`, never guessed.
 */
export const limits = {
  /** FAT entries held in memory (4 bytes each as cluster owners): 2 TiB at 64 KiB clusters has 33 million. */
  clusters: 40_000_000,
  /** Bytes of one folder: FAT specification section 6.4, 65536 entries of 32 bytes. */
  folderBytes: 65_536 * 32,
  /** Files and folders remembered from one volume. */
  files: 200_000,
  /** Folders inside folders. The longest path that Windows and Linux drivers take has 260 to 4096 characters. */
  folderDepth: 128,
  /** Partition entries: UEFI asks for at least 128; some tools write more. */
  partitionEntries: 1024,
  /** Logical partitions in a chain of extended boot records. */
  logicalPartitions: 128,
  /** Bytes of one GPT entry array. */
  gptArrayBytes: 1024 * 1024,
  /** Bytes of an update file that is read whole. Control boards of this kind hold far less. */
  updateFileBytes: 256 * 1024 * 1024,
  /** Bytes of a companion that is compared or read as text. */
  companionBytes: 64 * 1024 * 1024,
  /** Non-zero bytes kept from a compressed image. */
  unpackedBytes: 1536 * 1024 * 1024,
  /** Size of the image inside a compressed file: 2 TiB, the largest SDXC card. */
  unpackedSize: 2 * 1024 ** 4,
  /** Problems kept with their place; the rest is counted. */
  problems: 200,
  /** Offenders and files listed in a report. */
  listed: 50,
  /** Bytes of a profile, rule file, record or manifest. */
  textFileBytes: 4 * 1024 * 1024,
} as const;
