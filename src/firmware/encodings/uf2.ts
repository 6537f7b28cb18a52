import { hasAscii, latin1, u32At } from '../../bytes/cursor.js';
import { limits } from '../../bytes/limits.js';
import { MemoryMap, MemoryMapBuilder } from '../memory-map.js';
import { hex, ProblemList } from '../problem.js';
import {
  type Decoded,
  type DecodeHint,
  type Detection,
  type Encoding,
  notThis,
  type Uf2Details,
} from './encoding.js';
import { uf2FamilyNames } from './uf2-families.js';

/** Every block is 512 bytes: 32 of header, 476 of data, the last magic number. */
const blockBytes = 512;
const dataBytes = 476;
const flag = {
  notMainFlash: 0x1,
  fileContainer: 0x1000,
  familyId: 0x2000,
  md5: 0x4000,
  tags: 0x8000,
} as const;

const isBlock = (bytes: Uint8Array, at: number): boolean =>
  u32At(bytes, at) === 0x0a324655 &&
  u32At(bytes, at + 4) === 0x9e5d5157 &&
  u32At(bytes, at + 508) === 0x0ab16f30;

function detect(bytes: Uint8Array): Detection {
  if (!hasAscii(bytes, 0, 'UF2\n')) return notThis;
  return isBlock(bytes, 0)
    ? { confidence: 'certain', because: 'it begins with a block of UF2, all three magic numbers in place' }
    : { confidence: 'likely', because: 'it begins with the mark of UF2, but the first block is not whole' };
}

/** What is gathered about one family while the blocks go by. */
interface FamilyState {
  id: number | null;
  builder: MemoryMapBuilder;
  blocks: number;
  announced: number;
  seen: Set<number>;
  repeated: number;
  outOfOrder: number;
  last: number;
  firstAt: number;
}

/** Values of the extension tags that were met first; later ones of the same kind are repeats. */
type Tags = { version?: string; device?: string; pageBytes?: number; deviceType?: string };

/** Tags follow the payload: a size byte that counts itself and the type, a type of three bytes, four-byte steps. */
function readTags(bytes: Uint8Array, from: number, to: number, tags: Tags, problems: ProblemList): void {
  for (let at = from; at + 4 <= to; ) {
    const size = bytes[at]!;
    const type = bytes[at + 1]! + bytes[at + 2]! * 2 ** 8 + bytes[at + 3]! * 2 ** 16;
    if ((size === 0 && type === 0) || (size === 0xff && type === 0xffffff)) return;
    if (size < 4 || at + size > to) {
      problems.add('extension-tag', 'an extension tag does not fit into its block', at);
      return;
    }
    const value = bytes.subarray(at + 4, at + size);
    if (type === 0x9fc7bc) tags.version ??= latin1(value);
    else if (type === 0x650d9d) tags.device ??= latin1(value);
    else if (type === 0x0be9f7 && value.length === 4) tags.pageBytes ??= u32At(value, 0);
    else if (type === 0xc8a729 && (value.length === 4 || value.length === 8))
      tags.deviceType ??=
        value.length === 4 ? hex(u32At(value, 0)) : hex(u32At(value, 4)) + hex(u32At(value, 0)).slice(2);
    at += Math.ceil(size / 4) * 4;
  }
}

/** The lowest block number that no block has. */
function firstMissing(seen: Set<number>): number {
  let number = 0;
  while (seen.has(number)) number += 1;
  return number;
}

/**
 * UF2. Blocks are counted for each family by itself, since a loader passes over blocks of other families altogether,
 * their numbers included. The map holds the family that the caller names; where the caller names none, the one with
 * most blocks. A block without a family id counts for every loader when none of the file's blocks is of its family.
 */
function decode(bytes: Uint8Array, hint: DecodeHint = {}): Decoded {
  const problems = new ProblemList();
  const families = new Map<number | null, FamilyState>();
  const files = new Map<string, number>();
  const tags: Tags = {};
  let blocks = 0;
  let notMainFlash = 0;
  let md5Blocks = 0;
  let lost = false;
  let overLimit = false;

  for (let at = 0; at + blockBytes <= bytes.length; at += blockBytes) {
    if (!isBlock(bytes, at)) {
      problems.add('not-a-block', 'the magic numbers of a UF2 block are not there', at);
      lost = true;
      continue;
    }
    blocks += 1;
    const flags = u32At(bytes, at + 8);
    const has = (bit: number): boolean => Math.floor(flags / bit) % 2 === 1;
    const address = u32At(bytes, at + 12);
    const length = u32At(bytes, at + 16);
    const number = u32At(bytes, at + 20);
    const announced = u32At(bytes, at + 24);
    const family = u32At(bytes, at + 28);
    if (length > dataBytes) {
      problems.add(
        'payload-size',
        `a block claims ${length} bytes of data; it can hold ${dataBytes}`,
        at + 16,
      );
      lost = true;
      continue;
    }
    if (has(flag.md5)) md5Blocks += 1;
    const tagsEnd = at + 32 + dataBytes - (has(flag.md5) ? 24 : 0);
    if (has(flag.tags)) readTags(bytes, at + 32 + Math.ceil(length / 4) * 4, tagsEnd, tags, problems);
    if (has(flag.fileContainer)) {
      let end = at + 32 + length;
      while (end < tagsEnd && bytes[end] !== 0) end += 1;
      const name = latin1(bytes.subarray(at + 32 + length, end));
      if (files.size < limits.listed && !files.has(name)) files.set(name, family);
      continue;
    }
    if (has(flag.notMainFlash)) {
      notMainFlash += 1;
      continue;
    }
    const id = has(flag.familyId) ? family : null;
    let state = families.get(id);
    if (!state) {
      if (families.size >= limits.uf2Families) {
        if (!overLimit) problems.add('over-limit', 'more families than this tool tells apart', at);
        overLimit = true;
        continue;
      }
      state = {
        id,
        builder: new MemoryMapBuilder(problems),
        blocks: 0,
        announced,
        seen: new Set(),
        repeated: 0,
        outOfOrder: 0,
        last: -1,
        firstAt: at,
      };
      families.set(id, state);
    }
    state.blocks += 1;
    if (announced !== state.announced)
      problems.add(
        'block-total',
        `a block announces ${announced} blocks, the first ${state.announced}`,
        at + 24,
      );
    if (number >= state.announced)
      problems.add('block-number', `block number ${number} of ${state.announced} announced`, at + 20);
    if (state.seen.has(number)) {
      state.repeated += 1;
      problems.add('block-repeated', `block number ${number} comes more than once`, at + 20);
    } else if (number < state.last) {
      state.outOfOrder += 1;
      problems.add('block-order', `block number ${number} comes after number ${state.last}`, at + 20);
    }
    state.seen.add(number);
    state.last = number;
    if (address % 4 !== 0 || length % 4 !== 0)
      problems.add('block-alignment', 'address and length of a block are not both multiples of 4', at + 12);
    state.builder.add(address, bytes.subarray(at + 32, at + 32 + length), at);
  }
  if (bytes.length % blockBytes !== 0) {
    problems.add(
      'length-multiple',
      'the file does not end at the end of a block',
      bytes.length - (bytes.length % blockBytes),
    );
    lost = true;
  }

  const list = [...families.values()].map((state) => {
    let below = 0;
    for (const number of state.seen) if (number < state.announced) below += 1;
    const missing = state.announced - below;
    if (missing > 0)
      problems.add(
        'block-missing',
        `${missing} of ${state.announced} blocks lack, the first is number ${firstMissing(state.seen)}`,
        state.firstAt,
      );
    return {
      id: state.id,
      name: state.id === null ? null : (uf2FamilyNames.get(state.id) ?? null),
      blocks: state.blocks,
      announced: state.announced,
      missing,
      repeated: state.repeated,
      outOfOrder: state.outOfOrder,
      map: state.builder.build(),
      overLimit: state.builder.overLimit,
    };
  });
  const chosen =
    hint.uf2Family === undefined
      ? list.reduce<(typeof list)[number] | undefined>(
          (most, one) => (most && most.blocks >= one.blocks ? most : one),
          undefined,
        )
      : (list.find(({ id }) => id === hint.uf2Family) ?? list.find(({ id }) => id === null));
  const details: Uf2Details = {
    kind: 'uf2',
    blocks,
    families: list.map(({ overLimit: _, ...family }) => family),
    mapFamily: chosen?.id,
    notMainFlash,
    files: [...files].map(([name, size]) => ({ name, bytes: size })),
    md5Blocks,
    tags,
  };
  return {
    encoding: 'uf2',
    map: chosen?.map ?? new MemoryMap([]),
    entry: null,
    whole: !lost && !overLimit && chosen !== undefined && chosen.missing === 0 && !chosen.overLimit,
    problems: problems.items,
    problemsTotal: problems.total,
    details,
  };
}

/** UF2. Source: README of https://github.com/microsoft/uf2, "File format". */
export const uf2: Encoding = { id: 'uf2', title: 'UF2', extensions: ['uf2'], detect, decode };
