import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Profile } from '../../src/board/profile.js';
import { readProfile } from '../../src/board/read.js';

export type { Profile } from '../../src/board/profile.js';

/** The profile of one of the sample boards. */
export function readBoard(id: string): Profile {
  const path = join(import.meta.dirname, `../../samples/boards/${id}.yaml`);
  return readProfile(readFileSync(path, 'utf8'), path).profile;
}
