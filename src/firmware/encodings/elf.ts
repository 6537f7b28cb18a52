import { limits } from '../../bytes/limits.js';
import { MemoryMap, MemoryMapBuilder } from '../memory-map.js';
import { ProblemList } from '../problem.js';
import { type Decoded, type Detection, type ElfDetails, type Encoding, notThis } from './encoding.js';

/** `e_machine` of glibc's elf.h, those of small processors and the common mistakes. */
const machines: Readonly<Record<number, string>> = {
  3: 'Intel 80386',
  4: 'Motorola 68000',
  8: 'MIPS',
  40: 'ARM',
  62: 'x86-64',
  83: 'AVR',
  94: 'Xtensa',
  183: 'AArch64',
  185: 'AVR32',
  243: 'RISC-V',
};

const isElf = (bytes: Uint8Array): boolean =>
  bytes[0] === 0x7f && bytes[1] === 0x45 && bytes[2] === 0x4c && bytes[3] === 0x46;

function detect(bytes: Uint8Array): Detection {
  if (!isElf(bytes)) return notThis;
  const kind = bytes[4];
  const order = bytes[5];
  return (kind === 1 || kind === 2) && (order === 1 || order === 2) && bytes[6] === 1
    ? { confidence: 'certain', because: 'it begins with the header of an ELF file' }
    : { confidence: 'likely', because: 'it begins with the mark of an ELF file' };
}

/** Fields in the byte order that the file names; 0 past its end. */
class Fields {
  constructor(
    private readonly bytes: Uint8Array,
    private readonly little: boolean,
  ) {}
  at(offset: number, length: 2 | 4): number {
    let value = 0;
    for (let i = 0; i < length; i++) {
      const place = this.little ? offset + length - 1 - i : offset + i;
      value = value * 256 + (this.bytes[place] ?? 0);
    }
    return value;
  }
}

/** Header of a 32-bit file, and one entry of its table of program headers. */
const headerBytes = 52;
const programHeaderBytes = 32;

/**
 * ELF for 32-bit processors: the segments to load (`PT_LOAD`) at their physical addresses, which is where the bytes
 * lie in flash; the virtual address of initialised data is where the program copies it to. Source: the ELF
 * specification's structures as in glibc's elf.h.
 */
function decode(bytes: Uint8Array): Decoded {
  const problems = new ProblemList();
  const builder = new MemoryMapBuilder(problems);
  const little = bytes[5] !== 2;
  const fields = new Fields(bytes, little);
  const wide = bytes[4] === 2;
  const segments: ElfDetails['segments'][number][] = [];
  const type = fields.at(16, 2);
  const machine = fields.at(18, 2);
  let lost = false;
  let loadsItsHeader = false;
  const lose = (code: string, text: string, at: number): void => {
    problems.add(code, text, at);
    lost = true;
  };

  if (!isElf(bytes)) lose('signature', 'the mark of an ELF file is not there', 0);
  else if (bytes.length < headerBytes) lose('past-end', 'the file ends inside its header', bytes.length);
  else if (wide) lose('elf-64-bit', 'it is a program for a 64-bit processor', 4);
  else {
    const table = fields.at(28, 4);
    const step = fields.at(42, 2);
    const count = fields.at(44, 2);
    if (type !== 2)
      problems.add('elf-type', `e_type is ${type}: only 2 is a linked program at fixed addresses`, 16);
    if (count === 0) lose('no-segments', 'it holds no segments to load', 44);
    else if (step < programHeaderBytes) lose('program-header', `its program headers have ${step} bytes`, 42);
    else if (count > limits.programHeaders) lose('over-limit', `it has ${count} program headers`, 44);
    else
      for (let i = 0; i < count; i++) {
        const at = table + i * step;
        if (at + programHeaderBytes > bytes.length) {
          lose('past-end', 'the table of program headers ends past the file', at);
          break;
        }
        const fileOffset = fields.at(at + 4, 4);
        const fileBytes = fields.at(at + 16, 4);
        const memoryBytes = fields.at(at + 20, 4);
        if (fields.at(at, 4) !== 1 || fileBytes === 0) continue;
        const physicalAddress = fields.at(at + 12, 4);
        segments.push({
          physicalAddress,
          virtualAddress: fields.at(at + 8, 4),
          fileOffset,
          fileBytes,
          memoryBytes,
        });
        if (fileOffset + fileBytes > bytes.length) {
          lose('past-end', 'a segment ends past the file', at);
          continue;
        }
        if (memoryBytes < fileBytes)
          problems.add('segment-size', 'a segment has more bytes in the file than in memory', at + 16);
        if (fileOffset < headerBytes) loadsItsHeader = true;
        builder.add(physicalAddress, bytes.subarray(fileOffset, fileOffset + fileBytes), at);
      }
  }
  const map = wide ? new MemoryMap([]) : builder.build();
  return {
    encoding: 'elf',
    map,
    entry: !wide && type === 2 && bytes.length >= headerBytes ? fields.at(24, 4) : null,
    whole: !lost && !builder.overLimit,
    problems: problems.items,
    problemsTotal: problems.total,
    details: {
      kind: 'elf',
      class: wide ? 64 : 32,
      byteOrder: little ? 'little' : 'big',
      type,
      machine: { number: machine, name: machines[machine] ?? null },
      segments,
      loadsItsHeader,
    },
  };
}

/** ELF for 32-bit processors. Source: glibc's elf.h. */
export const elf: Encoding = {
  id: 'elf',
  title: 'ELF',
  extensions: ['elf', 'axf', 'out', 'o'],
  detect,
  decode,
};
