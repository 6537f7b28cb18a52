/**
 * Short names: eleven bytes, eight of the base and three of the extension, padded with spaces (FAT specification,
 * section 6.1). Bytes from 0x80 up depend on the code page of the computer that wrote them, which the volume does
 * not tell. They are shown by code page 437, the usual default of embedded drivers; the raw bytes are kept.
 */

/** Characters of code page 437 from 0x80 to 0xFF. */
const codePage437 =
  'ÇüéâäàåçêëèïîìÄÅÉæÆôöòûùÿÖÜ¢£¥₧ƒáíóúñÑªº¿⌐¬½¼¡«»░▒▓│┤╡╢╖╕╣║╗╝╜╛┐└┴┬├─┼╞╟╚╔╩╦╠═╬╧╨╤╥╙╘╒╓╫╪┘┌' +
  '█▄▌▐▀αßΓπΣσµτΦΘΩδ∞φε∩≡±≥≤⌠⌡÷≈°∙·√ⁿ²■\u00a0';

/** Bit of `byteTraits`: the byte may not stand in a short name. */
export const illegalByte = 1;
/** Bit of `byteTraits`: the byte depends on the code page. */
export const codePageByte = 2;
/** Bit of `byteTraits`: the byte is shown as `_`, since it would break a path or a terminal. */
export const unshownByte = 4;

/** What each byte value is in a short name: the bits above (FAT specification, section 6.1). */
export const byteTraits: Uint8Array = traits();

function traits(): Uint8Array {
  const table = new Uint8Array(256);
  for (let byte = 0; byte < 0x20; byte++) table[byte] = illegalByte | unshownByte;
  for (const character of '"*+,./:;<=>?[\\]|') table[character.charCodeAt(0)] = illegalByte;
  for (const character of '"*/:<>?\\|') table[character.charCodeAt(0)]! |= unshownByte;
  for (let byte = 0x61; byte <= 0x7a; byte++) table[byte] = illegalByte;
  table[0x7f] = illegalByte | unshownByte;
  for (let byte = 0x80; byte < 0x100; byte++) table[byte] = codePageByte;
  return table;
}

/** One byte of a short name as a character; bytes that would break a path or a terminal become `_`. */
const shownCharacters: readonly string[] = Array.from({ length: 256 }, (_, byte) => {
  if (byte >= 0x80) return codePage437[byte - 0x80] ?? '_';
  return (byteTraits[byte]! & unshownByte) !== 0 ? '_' : String.fromCharCode(byte);
});

/** Bit of the case byte (DIR_NTRes): the base is shown in lower case. */
export const baseLowerCase = 0x08;
/** Bit of the case byte (DIR_NTRes): the extension is shown in lower case. */
export const extensionLowerCase = 0x10;

/** Short names whose every byte is shown as it is: nearly all. */
const plainName = /^[ !#-)+-.0-9;=@-[\]-{}~]+$/;

/**
 * A short name as text, `UPDATE.BIN`, out of eleven raw bytes held as characters U+0000 to U+00FF. With
 * `caseByte` (DIR_NTRes) the base or extension is shown in lower case, as Windows and Linux store it.
 */
export function shortNameText(raw: string, caseByte = 0): string {
  const text = plainName.test(raw) ? raw : shown(raw);
  let baseEnd = 8;
  while (baseEnd > 0 && raw.charCodeAt(baseEnd - 1) === 0x20) baseEnd--;
  let end = 11;
  while (end > 8 && raw.charCodeAt(end - 1) === 0x20) end--;
  let base = text.substring(0, baseEnd);
  if ((caseByte & baseLowerCase) !== 0) base = base.toLowerCase();
  if (end === 8) return base;
  const extension = text.substring(8, end);
  return `${base}.${(caseByte & extensionLowerCase) !== 0 ? extension.toLowerCase() : extension}`;
}

function shown(raw: string): string {
  let text = '';
  for (let i = 0; i < 11; i++) {
    const code = raw.charCodeAt(i);
    // 0x05 in the first place stands for 0xE5, which there would mean "deleted" (FAT specification, section 6.1).
    text += shownCharacters[i === 0 && code === 5 ? 0xe5 : code];
  }
  return text;
}

/**
 * The eleven raw bytes, as characters, that the short name `UPDATE.BIN` is stored as; null when the text is no
 * short name (longer than 8 and 3, more than one dot, characters outside ASCII or not allowed).
 */
export function rawShortName(text: string): string | null {
  const dot = text.lastIndexOf('.');
  const base = dot > 0 ? text.slice(0, dot) : text;
  const extension = dot > 0 ? text.slice(dot + 1) : '';
  if (base.length < 1 || base.length > 8 || extension.length > 3) return null;
  const raw = base.toUpperCase().padEnd(8) + extension.toUpperCase().padEnd(3);
  for (let i = 0; i < 11; i++) {
    const code = raw.charCodeAt(i);
    if (code > 0x7e || (byteTraits[code]! & illegalByte) !== 0) return null;
  }
  return raw.charCodeAt(0) === 0x20 ? null : raw;
}

/** True when the eleven raw bytes make no valid short name (FAT specification, section 6.1). */
export function isBadShortName(raw: string): boolean {
  if (raw.charCodeAt(0) === 0x20) return true;
  for (let i = 0; i < 11; i++) {
    const code = raw.charCodeAt(i);
    if ((byteTraits[code]! & illegalByte) !== 0 && !(i === 0 && code === 5)) return true;
  }
  return false;
}

/** True when the eleven raw bytes make no valid volume label; lower case is let pass, as mkfs.fat does. */
export function isBadLabel(raw: string): boolean {
  if (raw.charCodeAt(0) === 0x20) return true;
  for (let i = 0; i < 11; i++) {
    const code = raw.charCodeAt(i);
    if (code >= 0x61 && code <= 0x7a) continue;
    if ((byteTraits[code]! & illegalByte) !== 0 && !(i === 0 && code === 5) && code !== 0x7f) return true;
  }
  return false;
}

/** Checksum of the eleven raw bytes that every long-name entry carries (FAT specification, section 7.2). */
export function shortNameChecksum(raw: string): number {
  let sum = 0;
  for (let i = 0; i < 11; i++) sum = (((sum & 1) << 7) + (sum >> 1) + raw.charCodeAt(i)) & 0xff;
  return sum;
}
