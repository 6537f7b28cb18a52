import { Document, isCollection, isSeq } from 'yaml';
import { limits } from '../bytes/limits.js';
import type { MachineRecord } from './record.js';

/** The text of a machine record (`flashworthy-machine/1`, YAML 1.2), as `readRecord` reads it. */
export function recordText({
  board,
  revision,
  options,
  lastFileName,
  identity,
  settings,
  capture,
}: MachineRecord): string {
  const { supply, installed, was, sets = {} } = options;
  const document = new Document({
    schema: 'flashworthy-machine/1',
    board,
    ...(revision === undefined ? {} : { revision }),
    ...(supply === undefined ? {} : supply.toLowerCase() === 'unsure' ? { unsure: true } : { supply }),
    ...(installed === undefined ? {} : installed.toLowerCase() === 'none' ? { none: true } : { installed }),
    ...(was === undefined ? {} : { was }),
    ...sets,
    ...(lastFileName === undefined ? {} : { lastFileName }),
    identity,
    settings,
    capture: capture.map((line) => line.slice(0, limits.captureLineCharacters)),
  });
  document.commentBefore =
    " What one machine is, in its own words and its owner's. Made by flashworthy record.";
  const rows = document.get('settings');
  if (isSeq(rows)) for (const row of rows.items) if (isCollection(row)) row.flow = true;
  return document.toString({ lineWidth: 0 });
}
