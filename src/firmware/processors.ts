import { isMap, isScalar, isSeq, LineCounter, type Node, parseDocument } from 'yaml';
import { type AddressRange, addressSpace } from './memory-map.js';

/** Kinds of processor core that the table knows. */
export const cores = [
  'cortex-m0',
  'cortex-m0+',
  'cortex-m3',
  'cortex-m4',
  'cortex-m7',
  'cortex-m33',
  'avr',
  'riscv',
  'xtensa',
] as const;
/** One of `cores`. */
export type Core = (typeof cores)[number];

/** A stretch of memory with its name in the data sheet. */
export interface MemoryRegion extends AddressRange {
  readonly name: string | null;
}

/** Where a number was read, or remembered. */
export interface ProcessorSource {
  readonly title: string;
  readonly url: string | null;
  /** False for a document that was named from memory and not opened. */
  readonly opened: boolean;
}

/** One microcontroller, or several that differ in pins only. */
export interface Processor {
  /** Name as the profile has it. */
  readonly id: string;
  readonly core: Core;
  /** Ascending. Of external flash, the window through which the processor sees it. */
  readonly flash: readonly MemoryRegion[];
  /** Ascending; memories that lie side by side are separate regions only when the data sheet names them so. */
  readonly ram: readonly MemoryRegion[];
  /** True when the flash is a chip of its own, whose size the part does not tell. */
  readonly externalFlash: boolean;
  /** True for LPC parts, whose ROM starts only programs whose first eight words sum to zero. */
  readonly wordSum: boolean;
  /** Bytes between the start of the program and its vector table: 256 on the RP2040. */
  readonly vectorOffset: number;
  /** Sizes in bytes of the blocks in which its flash is erased, from the start of the flash; empty when not known. */
  readonly eraseBlocks: readonly number[];
  /** `chip id` of ESP images for this part. */
  readonly espChipId: number | null;
  /** Family of UF2 files for this part. */
  readonly uf2Family: number | null;
  readonly notes: string | null;
  readonly sources: readonly ProcessorSource[];
}

/** The table by upper-case name. */
export type ProcessorTable = ReadonlyMap<string, Processor>;

/** The table as it was compiled: a list of its entries. */
export const processorTable = (list: readonly Processor[]): ProcessorTable =>
  new Map(list.map((one) => [one.id.toUpperCase(), one]));

/** What is wrong with the table's text. Lines and columns count from 1. */
export interface ProcessorTableError {
  readonly line: number;
  readonly column: number;
  readonly text: string;
}

/** What a profile may say itself, with sizes and addresses turned into numbers of bytes. */
export interface InlineProcessor {
  core: string;
  flash: InlineRegion | InlineRegion[];
  ram: InlineRegion | InlineRegion[];
  wordSum?: boolean;
  espChipId?: number;
  uf2Family?: number;
}
/** A stretch of memory in a profile: address and size in bytes. */
export interface InlineRegion {
  start: number;
  bytes: number;
}

/** Blocks of one size in the flash of one part; the smallest pages are of 128 bytes. */
const mostBlocks = 65_536;

const unit: Readonly<Record<string, number>> = { '': 1, B: 1, KiB: 1024, MiB: 1024 * 1024 };

/** `64KiB`, `1MiB` or a plain number of bytes; null for anything else. */
function sizeOf(value: unknown): number | null {
  if (typeof value === 'number') return Number.isSafeInteger(value) && value > 0 ? value : null;
  if (typeof value !== 'string') return null;
  const parts = /^(\d{1,10}) ?(B|KiB|MiB)?$/.exec(value);
  return parts && Number(parts[1]) > 0 ? Number(parts[1]) * unit[parts[2] ?? '']! : null;
}

/** Keys of an entry of the table. */
const entryKeys = [
  'parts',
  'core',
  'flash',
  'ram',
  'externalFlash',
  'wordSum',
  'vectorOffset',
  'eraseBlocks',
  'espChipId',
  'uf2Family',
  'notes',
  'sources',
] as const;

/** Walks over the YAML nodes and collects what is wrong, with positions. */
class TableReader {
  readonly errors: ProcessorTableError[] = [];
  constructor(private readonly lines: LineCounter) {}

  error(node: unknown, text: string): null {
    const at = (node as Node | null | undefined)?.range?.[0] ?? 0;
    const { line, col } = this.lines.linePos(at);
    this.errors.push({ line, column: col, text });
    return null;
  }

  scalar(node: unknown): unknown {
    return isScalar(node) ? node.value : undefined;
  }

  text(node: unknown, what: string): string | null {
    const value = this.scalar(node);
    return typeof value === 'string' && value !== '' ? value : this.error(node, `${what} must be a text`);
  }

  whole(node: unknown, what: string): number | null {
    const value = this.scalar(node);
    return typeof value === 'number' && Number.isSafeInteger(value) && value >= 0 && value < addressSpace
      ? value
      : this.error(node, `${what} must be a whole number of 32 bits`);
  }

  yes(node: unknown, what: string): boolean {
    const value = this.scalar(node);
    if (typeof value !== 'boolean') this.error(node, `${what} must be true or false`);
    return value === true;
  }

  /** `[{count, bytes}, …]` as a list of sizes that fill the first region of the flash. */
  blocks(node: unknown, flash: readonly MemoryRegion[]): number[] {
    const list: number[] = [];
    const first = flash[0];
    const wanted = first === undefined ? 0 : first.end - first.start;
    let total = 0;
    for (const item of isSeq(node) ? node.items : [])
      if (isMap(item)) {
        const count = this.whole(item.get('count', true), 'count in eraseBlocks') ?? 0;
        const bytes = sizeOf(this.scalar(item.get('bytes', true))) ?? 0;
        total += count * bytes;
        if (total <= wanted && count <= mostBlocks) for (let i = 0; i < count; i++) list.push(bytes);
      }
    if (total !== wanted || list.some((bytes) => bytes === 0))
      this.error(
        node,
        'eraseBlocks must be a list of {count, bytes} that fills the first region of the flash',
      );
    return list;
  }

  regions(node: unknown, what: string): MemoryRegion[] {
    const list: MemoryRegion[] = [];
    if (!isSeq(node) || node.items.length === 0) {
      this.error(node, `${what} must be a list of regions {start, bytes, name}`);
      return list;
    }
    for (const item of node.items) {
      if (!isMap(item)) {
        this.error(item, `each region of ${what} must be {start, bytes, name}`);
        continue;
      }
      const start = this.whole(item.get('start', true), `start in ${what}`);
      const bytes = sizeOf(this.scalar(item.get('bytes', true)));
      if (bytes === null) this.error(item, `bytes in ${what} must be a size such as 64KiB`);
      if (start === null || bytes === null) continue;
      const name = item.has('name') ? this.text(item.get('name', true), `name in ${what}`) : null;
      const before = list.at(-1);
      if (before && start < before.end) this.error(item, `regions of ${what} must ascend and not overlap`);
      if (start + bytes > addressSpace) this.error(item, `a region of ${what} ends past 32 bits`);
      list.push({ start, end: start + bytes, name });
    }
    return list;
  }
}

/**
 * Reads the table of processors (`rules/processors.yaml`). Each entry may name several parts; each becomes an entry of
 * its own under its upper-case name. With any error the table is not to be used.
 */
export function parseProcessors(text: string): { table: ProcessorTable; errors: ProcessorTableError[] } {
  const lines = new LineCounter();
  const document = parseDocument(text, { lineCounter: lines, prettyErrors: false, uniqueKeys: true });
  const reader = new TableReader(lines);
  const table = new Map<string, Processor>();
  for (const problem of [...document.errors, ...document.warnings]) {
    const { line, col } = lines.linePos(problem.pos[0]);
    reader.errors.push({ line, column: col, text: problem.message });
  }
  const root = document.contents;
  if (reader.errors.length > 0 || !isMap(root)) {
    if (!isMap(root)) reader.error(root, 'the table must be a map with schema, sources and processors');
    return { table, errors: reader.errors };
  }
  if (reader.scalar(root.get('schema', true)) !== 'flashworthy-processors/1')
    reader.error(root.get('schema', true), 'schema must be flashworthy-processors/1');

  const sources = new Map<string, ProcessorSource>();
  const sourceMap = root.get('sources', true);
  if (!isMap(sourceMap)) reader.error(sourceMap, 'sources must be a map');
  else
    for (const { key, value } of sourceMap.items) {
      const id = reader.text(key, 'the name of a source');
      if (id === null || !isMap(value)) {
        reader.error(value, 'a source must be {title, url, opened}');
        continue;
      }
      const title = reader.text(value.get('title', true), 'title');
      const url = value.has('url') ? reader.text(value.get('url', true), 'url') : null;
      const opened = reader.yes(value.get('opened', true), 'opened');
      if (title !== null) sources.set(id, { title, url, opened });
    }

  const list = root.get('processors', true);
  if (!isSeq(list)) reader.error(list, 'processors must be a list');
  else
    for (const item of list.items) {
      if (!isMap(item)) {
        reader.error(item, 'a processor must be a map');
        continue;
      }
      for (const { key } of item.items) {
        const name = reader.scalar(key);
        if (!(entryKeys as readonly unknown[]).includes(name))
          reader.error(key, `unknown key ${String(name)}`);
      }
      const optional = <T>(name: string, read: (node: unknown) => T | null, otherwise: T): T =>
        item.has(name) ? (read(item.get(name, true)) ?? otherwise) : otherwise;
      const core = reader.text(item.get('core', true), 'core');
      if (core !== null && !(cores as readonly string[]).includes(core))
        reader.error(item.get('core', true), `core must be one of ${cores.join(', ')}`);
      const used: ProcessorSource[] = [];
      const sourceList = item.get('sources', true);
      if (!isSeq(sourceList) || sourceList.items.length === 0)
        reader.error(item, 'sources must name at least one source');
      else
        for (const node of sourceList.items) {
          const name = String(reader.scalar(node));
          const known = sources.get(name);
          // A data sheet is named where it is used; only the numbers of few are worth an entry of their own.
          if (known) used.push(known);
          else if (name.startsWith('data sheet ')) used.push({ title: name, url: null, opened: false });
          else reader.error(node, `no such source: ${name}`);
        }
      const flash = reader.regions(item.get('flash', true), 'flash');
      const common = {
        core: core as Core,
        flash,
        ram: reader.regions(item.get('ram', true), 'ram'),
        externalFlash: optional('externalFlash', (node) => reader.yes(node, 'externalFlash'), false),
        wordSum: optional('wordSum', (node) => reader.yes(node, 'wordSum'), false),
        vectorOffset: optional('vectorOffset', (node) => reader.whole(node, 'vectorOffset'), 0),
        eraseBlocks: optional<number[]>('eraseBlocks', (node) => reader.blocks(node, flash), []),
        espChipId: optional<number | null>('espChipId', (node) => reader.whole(node, 'espChipId'), null),
        uf2Family: optional<number | null>('uf2Family', (node) => reader.whole(node, 'uf2Family'), null),
        notes: optional<string | null>('notes', (node) => reader.text(node, 'notes'), null),
        sources: used,
      };
      const parts = item.get('parts', true);
      if (!isSeq(parts) || parts.items.length === 0) {
        reader.error(item, 'parts must list at least one part');
        continue;
      }
      for (const node of parts.items) {
        const id = reader.text(node, 'a part');
        if (id === null) continue;
        if (table.has(id.toUpperCase())) reader.error(node, `${id} is in the table already`);
        table.set(id.toUpperCase(), { id, ...common });
      }
    }
  return { table, errors: reader.errors };
}

/** Regions of an inline map in ascending order; null when one of them is no stretch of a 32-bit memory. */
function inlineRegions(given: InlineRegion | InlineRegion[]): MemoryRegion[] | null {
  const list = (Array.isArray(given) ? given : [given])
    .map(({ start, bytes }) => ({ start, end: start + bytes, name: null }))
    .sort((a, b) => a.start - b.start);
  const right = list.every(
    ({ start, end }) => Number.isSafeInteger(start) && start >= 0 && end > start && end <= addressSpace,
  );
  return right && list.length > 0 ? list : null;
}

/**
 * The processor that a profile means: a name of the table in any case, or a map of its own. Null when the table has no
 * such part, or the map names an unknown core or a region outside 32 bits.
 */
export function processorOf(said: string | InlineProcessor, table: ProcessorTable): Processor | null {
  if (typeof said === 'string') return table.get(said.toUpperCase()) ?? null;
  const flash = inlineRegions(said.flash);
  const ram = inlineRegions(said.ram);
  if (!flash || !ram || !(cores as readonly string[]).includes(said.core)) return null;
  return {
    id: 'as the profile describes it',
    core: said.core as Core,
    flash,
    ram,
    externalFlash: false,
    wordSum: said.wordSum ?? false,
    vectorOffset: 0,
    eraseBlocks: [],
    espChipId: said.espChipId ?? null,
    uf2Family: said.uf2Family ?? null,
    notes: null,
    sources: [{ title: 'the board profile', url: null, opened: true }],
  };
}

/** True for cores that start from a vector table of stack pointer and vectors. */
export const hasVectorTable = ({ core }: Processor): boolean => core.startsWith('cortex-m');

/**
 * True when a full-descending stack may begin at this address: inside a RAM or just behind it, since the first push
 * goes below. Memories that touch count as one.
 */
export const isStackInRam = ({ ram }: Processor, address: number): boolean =>
  ram.some(({ start, end }) => address > start && address <= end);

/** The blocks that have to be erased before bytes are written to these places; empty when the blocks are not known. */
export function blocksUnder(
  { flash, eraseBlocks }: Processor,
  places: readonly AddressRange[],
): AddressRange[] {
  const blocks: AddressRange[] = [];
  let start = flash[0]?.start ?? 0;
  for (const bytes of eraseBlocks) {
    const end = start + bytes;
    if (places.some((place) => place.start < end && place.end > start)) blocks.push({ start, end });
    start = end;
  }
  return blocks;
}
