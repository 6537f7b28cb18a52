/**
 * Every bound of every walk, by name. A card is somebody else's data: it may claim any size, and a walk that it
 * steers must end. What lies over a limit is `unseen: over-limit`, never guessed.
 */
export const limits = {
  /** FAT entries held in memory (4 bytes each as cluster owners): 2 TiB at 64 KiB clusters has 33 million. */
  clusters: 40_000_000,
  /** Bytes of one folder: FAT specification section 6.4, 65536 entries of 32 bytes. */
  folderBytes: 65_536 * 32,
  /** Bytes of all folders of one volume: 200,000 entries in folders of a cluster each come to less. */
  allFolderBytes: 1024 * 1024 * 1024,
  /** Files and folders remembered from one volume. */
  files: 200_000,
  /** Files of a mounted volume that the computer is made to write out before the card behind it is read. */
  flushedFiles: 1000,
  /** Folders inside folders. The longest path that Windows and Linux drivers take has 260 to 4096 characters. */
  folderDepth: 128,
  /** Partition entries: UEFI asks for at least 128; some tools write more. */
  partitionEntries: 1024,
  /** Logical partitions in a chain of extended boot records. */
  logicalPartitions: 128,
  /** Bytes before the first partition that are searched for leftovers: cards are aligned to 4 MiB at most, as a rule. */
  gapBytes: 4 * 1024 * 1024,
  /** Bytes of one GPT entry array. */
  gptArrayBytes: 1024 * 1024,
  /** Bytes of an update file that is read whole. Control boards of this kind hold far less. */
  updateFileBytes: 256 * 1024 * 1024,
  /** Bytes of program gathered from one update file: segments of an ELF file may all name the same bytes. */
  programBytes: 256 * 1024 * 1024,
  /** Separate pieces of program gathered before they are put in order. */
  programPieces: 262_144,
  /** Families told apart in one UF2 file; the published list has fewer than a hundred. */
  uf2Families: 256,
  /** Program headers of an ELF file; targets of a DfuSe file. Real files have a handful. */
  programHeaders: 1024,
  /** Bytes of an image whose entropy is measured. */
  entropyBytes: 1024 * 1024,
  /** Bytes of a companion that is compared or read as text. */
  companionBytes: 64 * 1024 * 1024,
  /** Non-zero bytes kept from a compressed image. */
  unpackedBytes: 1536 * 1024 * 1024,
  /** Size of the image inside a compressed file: 2 TiB, the largest SDXC card. */
  unpackedSize: 2 * 1024 ** 4,
  /** Pieces (gzip members) of a compressed image: tools that pack in parallel make one for each 64 KiB. */
  gzipMembers: 1_000_000,
  /** Problems kept with their place; the rest is counted. */
  problems: 200,
  /** Offenders and files listed in a report. */
  listed: 50,
  /** Characters of one expression of a rule. */
  expressionCharacters: 4000,
  /** Operators inside operators in one expression. */
  expressionDepth: 100,
  /** Builds times machines that are looked at when a build is chosen, or the choice proved, for all machines. */
  buildChecks: 2_000_000,
  /** Kinds of machines told apart in one proof: answers to the questions times supplies. */
  machines: 50_000,
  /** Published files with which a file that equals none of them is compared byte for byte. */
  nearMissFiles: 64,
  /** Files of one release folder. Releases hold a handful of builds and documents. */
  releaseFiles: 10_000,
  /** Bytes of all files of one release folder together. */
  releaseBytes: 8 * 1024 * 1024 * 1024,
  /** Kinds of machines that are looked at for one build of a release: answers to all questions of the profile. */
  releaseKinds: 4096,
  /** Kinds of machines on which one build of a release is tried, and rows of the table of builds in a report. */
  releaseMachines: 64,
  /** Places of one marker text that are looked at in an image. */
  markerPlaces: 1000,
  /** Characters of a saved report: one that lists all files of a full card (`--facts all`) has some sixty million. */
  reportBytes: 128 * 1024 * 1024,
  /** Bytes of a terminal capture: a settings report has a few thousand. */
  captureBytes: 1024 * 1024,
  /** Lines of a terminal capture that are looked at. */
  captureLines: 50_000,
  /** Characters of one line of a terminal capture. */
  captureLineCharacters: 4096,
  /** Numbers kept from the settings reports of one capture; a large map of a bed has a thousand. */
  captureSettings: 4000,
  /** Bytes that a program of the system may print about disks and cards: what it says of one is a few thousand. */
  systemAnswerBytes: 4 * 1024 * 1024,
  /** Bytes of a profile, rule file, record or manifest. */
  textFileBytes: 4 * 1024 * 1024,
} as const;
