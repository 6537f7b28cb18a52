import { sizeText } from '../bytes/size-text.js';
import { hex } from '../rules/functions.js';
import type { IdentityEncoding, IdentityMemory, IdentityReport } from './identity.js';
import { type LineOptions, Lines } from './lines.js';

/** What a file is, for people: the answer first, then by what it is known. */
export function identifyText(report: IdentityReport, options: LineOptions): string {
  const lines = new Lines(options);
  const { green, yellow, red } = lines.paint;
  const { verdict, file, build, release, board, encoding, memory, vectors, markers, notes, next } = report;
  if (verdict === 'known')
    lines.headline(`KNOWN: ${build?.id ?? report.releaseFile?.path} of release ${release}`, green);
  else if (verdict === 'unknown') {
    const isCompared = report.inputs.some(({ role }) => role === 'release manifest');
    lines.headline(`UNKNOWN: ${isCompared ? 'no published build' : 'compared with no release'}`, yellow);
  } else lines.headline('NOT FIRMWARE', red);
  lines.add(`${file.path} ${report.text}.`);
  if (next !== null) lines.add(next.text);
  if (next?.command) lines.command(next.command);
  lines.blank();
  lines.entry('Size', sizeText(file.bytes));
  if (file.sha256 !== null) lines.entry('SHA-256', file.sha256);
  if (file.crc32 !== null) lines.entry('CRC-32', file.crc32);
  if (board !== null)
    lines.entry('Board', `${board.title} (profile ${board.id}, revision ${board.revision})`);
  if (build !== null) lines.entry('Made for', build.machines);
  if (encoding !== null) lines.entry('Form', formText(encoding));
  if (memory !== null) lines.entry('Memory', memoryText(memory));
  if (vectors !== null)
    lines.entry(
      'Vectors',
      `initial stack pointer ${hex(vectors.initialStack)}, reset vector ${hex(vectors.resetVector)}`,
    );
  if (markers !== null) {
    const found = [...markers.builds, ...markers.siblings].map(({ id }) => id);
    lines.entry('Markers', found.length === 0 ? 'none of this board' : found.join(', '));
  }
  if (encoding !== null && encoding.problemsTotal > 0) problems(lines, encoding);
  if (notes.length > 0) {
    lines.section('Mind');
    for (const note of notes) lines.item(note);
  }
  return lines.text();
}

function formText({ title, confidence, because, byName, nameDiffers }: IdentityEncoding): string {
  const how = confidence === 'possible' ? 'perhaps ' : '';
  const name = nameDiffers ? ` The name promises ${byName.join(' or ')}; the content counts.` : '';
  return `${how}${title}: ${because}.${name}`;
}

const byWords: Readonly<Record<IdentityMemory['by'], string>> = {
  file: 'as the file says',
  profile: 'as the board profile says',
  vectors: 'by its vectors',
};

function memoryText({ start, end, bytes, segmentsTotal, by }: IdentityMemory): string {
  const parts = segmentsTotal === 1 ? '' : ` in ${segmentsTotal} stretches`;
  return `${hex(start)} to ${hex(end - 1)}, ${sizeText(bytes)}${parts}, ${byWords[by]}`;
}

function problems(lines: Lines, { problems: list, problemsTotal, whole }: IdentityEncoding): void {
  lines.section(whole ? 'What is odd in it' : 'It is not whole');
  for (const { text, at } of list) lines.item(at === null ? text : `${text} (byte ${at})`);
  if (problemsTotal > list.length) lines.item(`and ${problemsTotal - list.length} more`);
}
